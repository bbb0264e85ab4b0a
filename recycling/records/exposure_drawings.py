"""What the figures of the search for a cause draw."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bin:
    """Spools within a band of shares: its words, and how many good and bad spools are in it."""

    label: str
    good: int
    bad: int


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Good and bad spools side by side over the share of a suspect, the largest share on top."""

    title: str
    finding: str
    good_label: str
    bad_label: str
    bins: tuple[Bin, ...]


@dataclass(frozen=True, slots=True)
class Curve:
    """The exposure curve: from which share on a spool counts as fully exposed, and its shape.

    `share_label` and `exposure_label` name the axes; `full_share` is from 0 to 1.
    """

    title: str
    finding: str
    share_label: str
    exposure_label: str
    full_share: float
    power: float
