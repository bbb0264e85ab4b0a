"""What anybody who holds a spool may see of it: no account, and nobody named without consent."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.records.balance.covered import Covered
from recycling.records.quality.checks import SettingInForce
from recycling.records.quality.verdicts import GivenBefore, PrintedWith

NAMED, GROUP, UNNAMED, BOUGHT, COUNTED, TRACES = (
    "named",
    "group",
    "unnamed",
    "bought",
    "counted",
    "traces",
)
"""Kinds of parts: a source by its name, several of one kind, the rest of them, what was bought,
what was there before the book, and what is too little to be listed."""


@dataclass(frozen=True)
class SpoolSource:
    """A part of a spool as the public sees it.

    Attributes
    ----------
    kind : str
        One of the kinds above.
    name : str
        The source's name where it may be named; its kind, as "school", for a group; else empty.
    sources : int
        How many sources are in it; 0 where they are not counted.
    mass_mg : int
        How much of the spool it is, in mg.
    share : float
        The same as a part of the whole, 0 to 1.
    """

    kind: str
    name: str
    sources: int
    mass_mg: int
    share: float


@dataclass(frozen=True)
class Worked:
    """Settings of a printer that worked, and for how many users.

    Attributes
    ----------
    printed : PrintedWith
        As they typed them.
    users : int
        How many said so of this spool or of others of the same run.
    """

    printed: PrintedWith
    users: int


@dataclass(frozen=True)
class PublicSpool:
    """What anybody who holds a spool's label may see of it.

    Attributes
    ----------
    code, polymer, colour : str
        Its serial and what it is.
    workshop, zone : str
        Who made it, and the time zone of its times.
    diameter_mm, tolerance_mm : float or None
        Nominal diameter and tolerance.
    mean_mm : float or None
        Mean of the diameters that were read.
    mass_mg : int
        Net mass as made, in mg.
    left_mg : int
        What is left of it by the book, or was when it left the workshop, in mg.
    left_at : str
        "here", "dispatched" or "used up": what `left_mg` speaks of.
    metres_left, u_metres_left : float or None
        Length of what is left, from mass, density and diameter, with its standard uncertainty.
    covered_metres : Covered or None
        What covers 95 % of the truths of that, m.
    made_at : datetime or None
        When it was made.
    kept : str
        "sealed" or "opened" as was noted last, else empty.
    kept_at : datetime or None
        When that was.
    collections : int
        How many collections are in it.
    sources : tuple of SpoolSource
        Where it came from, the largest part first; the parts add up to `mass_mg`.
    settings : tuple of SettingInForce
        What the extruder was set to.
    worked : tuple of Worked
        What printers were set to where it printed well, the most used first.
    good, bad : int
        Verdicts that count.
    held : bool
        Whether the workshop asks not to use it for now.
    judged : str
        "passed" or "failed" by the workshop's checks; empty where that is not decided.
    judged_at : datetime or None
        When it was measured last, where it passed.
    member_of : str
        Short name of the workshop in addresses where the reader is a member of it, else empty.
    before : GivenBefore or None
        What this browser said of it before.
    """

    code: str
    polymer: str
    colour: str
    workshop: str
    zone: str
    diameter_mm: float | None
    tolerance_mm: float | None
    mean_mm: float | None
    mass_mg: int
    left_mg: int
    left_at: str
    metres_left: float | None
    u_metres_left: float | None
    covered_metres: Covered | None
    made_at: datetime | None
    kept: str
    kept_at: datetime | None
    collections: int
    sources: tuple[SpoolSource, ...]
    settings: tuple[SettingInForce, ...]
    worked: tuple[Worked, ...]
    good: int
    bad: int
    held: bool
    judged: str
    judged_at: datetime | None
    member_of: str
    before: GivenBefore | None
