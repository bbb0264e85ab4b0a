"""What somebody asks of a report, before anything is read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

PERIOD, THANKS = "period", "thanks"
KINDS = (PERIOD, THANKS)


@dataclass(frozen=True)
class ReportQuestion:
    """A period, whom it is about and what counts as diverted.

    Attributes
    ----------
    kind : str
        ``period`` for a funder or an auditor, ``thanks`` for a source.
    from_date, to_date : date
        First and last day, both in it, in the workshop's zone.
    programme, source : str
        Name of the programme or source it is about; both empty for the whole workshop.
    counts_as : str
        The counter of ``recycling.calc.reports.diversion`` that this report counts as diverted.
    people_reached : int or None
        As typed; None when nobody counted.
    title, note : str
        Words of whoever makes it; an empty title is filled.
    signed_by : tuple of str
        Lines of the signature block.
    """

    kind: str
    from_date: date
    to_date: date
    programme: str = ""
    source: str = ""
    counts_as: str = "good product"
    people_reached: int | None = None
    title: str = ""
    note: str = ""
    signed_by: tuple[str, ...] = ()
