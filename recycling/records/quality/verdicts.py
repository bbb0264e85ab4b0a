"""What users say of spools: the trade's words for defects, and verdicts as they are shown."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

DEFECTS = (
    "brittle",
    "bubbles or stringing from moisture",
    "diameter out of tolerance",
    "clogged nozzle",
    "foreign particles",
    "poor layer bonding",
    "discoloured",
)
"""What a user can say of a bad spool; common practice."""

COUNTED, WAITING, SET_ASIDE = "counted", "waiting", "set aside"
VERDICT_STATES = (COUNTED, WAITING, SET_ASIDE)


@dataclass(frozen=True)
class PrintedWith:
    """What a printer was set to, as its user said; None for what was not said.

    Attributes
    ----------
    nozzle_c, bed_c : float or None
        Temperatures of nozzle and bed, in °C.
    speed_mm_s : float or None
        Speed of printing, in mm/s.
    """

    nozzle_c: float | None = None
    bed_c: float | None = None
    speed_mm_s: float | None = None

    @property
    def said(self) -> bool:
        """Whether anything was said."""
        return any(one is not None for one in (self.nozzle_c, self.bed_c, self.speed_mm_s))


NOTHING_SAID = PrintedWith()


@dataclass(frozen=True)
class PublicVerdictEntry:
    """What somebody without an account says of a spool.

    Attributes
    ----------
    good : bool
        Whether it printed well.
    defects : tuple of str
        What was wrong, from the trade's short list.
    note : str
        In the user's words.
    photo : bytes
        A picture file as it was sent, empty for none; it is drawn anew before it is kept.
    printed : PrintedWith
        What it was printed with, as far as it was said.
    """

    good: bool
    defects: tuple[str, ...] = ()
    note: str = ""
    photo: bytes = b""
    printed: PrintedWith = NOTHING_SAID


@dataclass(frozen=True)
class GivenBefore:
    """What this browser said of the spool before.

    Attributes
    ----------
    good : bool
        Whether it printed well.
    defects : tuple of str
        What was wrong.
    note : str
        In the user's words.
    state : str
        "counted", "waiting" or "set aside".
    given_at : datetime
        When.
    printed : PrintedWith
        What it was printed with.
    """

    good: bool
    defects: tuple[str, ...]
    note: str
    state: str
    given_at: datetime
    printed: PrintedWith = NOTHING_SAID


@dataclass(frozen=True)
class VerdictReceived:
    """A verdict that came in through a spool's public page.

    Attributes
    ----------
    lot : str
        Code of the spool.
    giver : str
        The token that the browser keeps, so that its owner can change the verdict.
    changed : bool
        Whether it takes the place of an earlier one.
    """

    lot: str
    giver: str
    changed: bool


@dataclass(frozen=True)
class VerdictToDecide:
    """A verdict as the workshop sees it.

    Attributes
    ----------
    verdict : int
        Its id.
    lot : str
        Code of the spool.
    good : bool
        Whether it printed well.
    defects : tuple of str
        What was wrong.
    note : str
        In the user's words.
    given_at : datetime
        When.
    state : str
        "counted", "waiting" or "set aside".
    by_member : str
        Name of the member who gave it; empty for somebody without an account.
    changed : bool
        Whether the same giver said something else of the spool before.
    photo : bool
        Whether a photo came with it.
    decided_by, reason : str
        Who decided, and why.
    decided_at : datetime or None
        When.
    """

    verdict: int
    lot: str
    good: bool
    defects: tuple[str, ...]
    note: str
    given_at: datetime
    state: str
    by_member: str
    changed: bool
    photo: bool
    decided_by: str
    reason: str
    decided_at: datetime | None


@dataclass(frozen=True)
class SpoolLink:
    """The public address of a spool.

    Attributes
    ----------
    lot : str
        Code of the spool.
    token : str
        What stands in the address; empty where no link is in force.
    created_at, expires_at : datetime or None
        When it was made and until when it opens the page.
    """

    lot: str
    token: str
    created_at: datetime | None
    expires_at: datetime | None
