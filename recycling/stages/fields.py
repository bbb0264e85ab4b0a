"""What is checked, noted or set during a stage."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Field:
    """Something that is checked, noted or set during a stage.

    Attributes
    ----------
    key : str
        Name in requests and in the book.
    label : str
        Name on pages.
    kind : str
        "number", "text" or "choice".
    unit : str
        Unit of a number.
    choices : tuple of str
        What can be chosen.
    minimum, maximum : float or None
        Bounds of a number.
    limit : float or None
        A value above it is outside the check's limit: noted as such, not refused.
    remedy : str
        What to do with material above the limit.
    required : bool
        Whether a run cannot be closed without it.
    hint : str
        What to look at, and where a limit comes from.
    """

    key: str
    label: str
    kind: str = "number"
    unit: str = ""
    choices: tuple[str, ...] = ()
    minimum: float | None = None
    maximum: float | None = None
    limit: float | None = None
    remedy: str = ""
    required: bool = False
    hint: str = ""
