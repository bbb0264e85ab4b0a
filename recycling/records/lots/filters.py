"""What to look for in a list of lots."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class LotFilter:
    """What to look for among lots; an empty text means any.

    Attributes
    ----------
    form, polymer, colour, stage : str
        Form, polymer and colour of the lot, and stage of the run that made it.
    state : str
        "on hand", "used up" or "held".
    origin : str
        Code of a collection, purchase or opening count that is in it.
    text : str
        Part of a code or note.
    spools : bool
        Spools only.
    start, end : datetime or None
        Made from then on and before then, by the end of the run that made it.
    """

    form: str = ""
    polymer: str = ""
    colour: str = ""
    state: str = ""
    stage: str = ""
    origin: str = ""
    text: str = ""
    spools: bool = False
    start: datetime | None = None
    end: datetime | None = None
