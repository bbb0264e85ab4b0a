"""What was not as it should be on the way of a spool."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Deviation:
    """Something on the way of a spool that was not as it should be.

    Attributes
    ----------
    kind : str
        "check", "diameter", "open run", "balance", "left open", "not recorded", "heel", or a
        limit of its plastic that was not kept: "dried too short", "dried too hot",
        "moist after drying", "wet at the feed" or "outside its window";
        or the key of what was unusual.
    run : str
        Code of the run where it was recorded.
    stage : str
        That run's stage.
    lot : str
        Code of the lot that is meant, empty for the run as a whole.
    label, value, limit : str
        What was looked at, what was found, and what it should have been.
    at : datetime or None
        When.
    share : float or None
        Part of the spool that met it, above 0 to 1; None where it is not known.
    weight : int
        3 for what is known to spoil spools, 2 for what may, 1 for what leaves a gap in the record.
    said : str
        The same in words, of a limit of its plastic.
    """

    kind: str
    run: str
    stage: str
    lot: str
    label: str
    value: str
    limit: str
    at: datetime | None
    share: float | None
    weight: int
    said: str = ""
