"""Telling others what is computed, so that it is declared wrong when it changes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.records.exchange.exports import ExportWanted


@dataclass(frozen=True)
class TellingEntry:
    """Whose energy is told: of a lot's whole trace, or of a period; without either of all runs.

    Attributes
    ----------
    lot : str
        Code of a lot or spool.
    forward : bool
        With a lot: the runs that it went into as well.
    from_, to_ : datetime or None
        The period; its end is not in it.
    """

    lot: str = ""
    forward: bool = False
    from_: datetime | None = None
    to_: datetime | None = None

    @property
    def wanted(self) -> ExportWanted:
        """The same as an export asks it."""
        return ExportWanted(self.lot, self.forward, self.from_, self.to_)


@dataclass(frozen=True)
class EnergiesTold:
    """What is told of energy from now on.

    Attributes
    ----------
    figures : int
        How many figures are new or changed; each run has one.
    told_at : datetime
        When they were told.
    """

    figures: int
    told_at: datetime
