"""What is said after saving: what was recorded, and what comes next."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Step:
    """Something that can be done next."""

    label: str
    url: str
    note: str = ""
    primary: bool = False


@dataclass(frozen=True)
class Saved:
    """What is said after saving.

    Attributes
    ----------
    code : str
        Code of what was recorded, shown large.
    text : str
        What was recorded, in a sentence.
    steps : tuple of Step
        What comes next.
    shape, url : str
        Key of a form whose shape is drawn, and address of the thing.
    lines : tuple of (str, str, str)
        Lots that were made: code, form, mass in words.
    warning : str
        What to look at, as a gain.
    notes : tuple of str
        What was unusual, each in a sentence.
    undo : str
        Address that takes it back, for whoever recorded it just now.
    """

    code: str
    text: str
    steps: tuple[Step, ...] = ()
    shape: str = ""
    url: str = ""
    lines: tuple[tuple[str, str, str], ...] = ()
    warning: str = ""
    notes: tuple[str, ...] = ()
    undo: str = ""
