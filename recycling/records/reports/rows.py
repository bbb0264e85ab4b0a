"""Reports as they are asked for, listed, followed, shown in public and verified."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from recycling.records.reports.files import FrozenReport


@dataclass(frozen=True)
class ReportFileRow:
    """A file of a report.

    Attributes
    ----------
    kind : str
        "pdf", "xlsx", "csv", "json" or "html".
    name : str
        What it is called.
    size_bytes : int
        How large it is.
    digest : str
        SHA-256 of its bytes.
    """

    kind: str
    name: str
    size_bytes: int
    digest: str


@dataclass(frozen=True)
class ReportRow:
    """A report in a list, frozen or on the way.

    Attributes
    ----------
    code : str
        Its code.
    kind : str
        "period" or "thanks".
    title : str
        What it is called; empty until it is made, when nobody typed one.
    from_date, to_date : date
        First and last day, both in it.
    about : str
        Name of the programme or source; empty for the whole workshop.
    state : str
        "making", "ready" or "failed".
    asked_at : datetime
        When it was asked for.
    asked_by : str
        By whom.
    frozen_at : datetime or None
        When it was frozen.
    sequence : int or None
        How many entries the book held then.
    digest : str
        SHA-256 of its JSON; empty until it is frozen.
    supersedes, superseded_by : str
        Codes of the reports before and after it; empty for none.
    """

    code: str
    kind: str
    title: str
    from_date: date
    to_date: date
    about: str
    state: str
    asked_at: datetime
    asked_by: str
    frozen_at: datetime | None = None
    sequence: int | None = None
    digest: str = ""
    supersedes: str = ""
    superseded_by: str = ""


@dataclass(frozen=True)
class ReportProgress(ReportRow):
    """How far a report is, and its files once it is frozen.

    Attributes
    ----------
    done_share : float
        How much of the work is done, from 0 to 1.
    step : str
        What is being done: "waiting", "reading", "files", "done".
    failure : str
        Why it could not be made; empty otherwise.
    intact : bool or None
        Whether its SHA-256 is still that of its JSON; None until it is frozen.
    may_be_public : bool
        Whether a public link may show it: every source it names has agreed.
    entries_since : int
        Entries that the book has taken in since it was frozen.
    facts_since : int
        Facts of what happened in its period or earlier that were put right since it was frozen.
    files : tuple of ReportFileRow
        Its files.
    """

    done_share: float = 0.0
    step: str = ""
    failure: str = ""
    intact: bool | None = None
    may_be_public: bool = False
    entries_since: int = 0
    facts_since: int = 0
    files: tuple[ReportFileRow, ...] = ()


@dataclass(frozen=True)
class LineChange:
    """A line of a report that is not what it was in the report before.

    Attributes
    ----------
    section, table : str
        Titles of where it stands; the table is empty for a figure of its own.
    line, column : str
        Which line, and which of its figures.
    kind, unit : str
        As of a column of a document.
    before, after : int, float, str or None
        What it said and says; None where there was or is no such line.
    what : str
        "added", "removed" or "changed".
    """

    section: str
    table: str
    line: str
    column: str
    kind: str
    unit: str
    before: int | float | str | None
    after: int | float | str | None
    what: str


@dataclass(frozen=True)
class ReportLinkRow:
    """A public address of a report.

    Attributes
    ----------
    link : int
        Its id.
    given_at : datetime
        When it was given.
    given_by : str
        By whom.
    expires_at : datetime
        When it stops to open anything.
    revoked_at : datetime or None
        When it was taken away.
    token : str
        The part of the address that opens it, shown once when it is given; empty later.
    """

    link: int
    given_at: datetime
    given_by: str
    expires_at: datetime
    revoked_at: datetime | None
    token: str = ""


@dataclass(frozen=True)
class ReportShown:
    """A frozen report with what it says.

    Attributes
    ----------
    progress : ReportProgress
        Its number, state and files.
    frozen : FrozenReport or None
        What it says; None until it is frozen.
    changes : tuple of LineChange
        What it says differently from the report whose place it takes.
    links : tuple of ReportLinkRow
        Its public addresses, the newest first.
    """

    progress: ReportProgress
    frozen: FrozenReport | None
    changes: tuple[LineChange, ...]
    links: tuple[ReportLinkRow, ...]


@dataclass(frozen=True)
class PublicReport:
    """What a public address shows of a report.

    Attributes
    ----------
    workshop : str
        Who reports.
    zone : str
        The workshop's IANA zone.
    frozen : FrozenReport
        What it says.
    digest : str
        SHA-256 of its JSON.
    files : tuple of ReportFileRow
        Its files.
    superseded_by : str
        Code of the report that took its place; empty for none.
    expires_at : datetime
        When the address stops to open anything.
    """

    workshop: str
    zone: str
    frozen: FrozenReport
    digest: str
    files: tuple[ReportFileRow, ...]
    superseded_by: str
    expires_at: datetime


@dataclass(frozen=True)
class Verification:
    """What a file turned out to be.

    Attributes
    ----------
    verdict : str
        "same": bit for bit a file of the report; "other report": of another report that is public
        or one's own; "unknown": neither, so changed, or never made here.
    digest : str
        SHA-256 of the file that was given.
    kind : str
        Which of the report's files it is; empty when it is none.
    report : str
        Code of the report it belongs to; empty when it is none.
    """

    verdict: str
    digest: str
    kind: str = ""
    report: str = ""


@dataclass(frozen=True)
class ReportEntry:
    """What somebody asks of a report, as it is sent.

    Attributes
    ----------
    from_date, to_date : date
        First and last day, both in it, in the workshop's zone.
    kind : str
        "period" for a funder or an auditor, "thanks" for a source.
    programme, source : str
        Name of the programme or source it is about; both empty for the whole workshop.
    counts_as : str
        What this report counts as diverted: "collected", "accepted", "entered the melt",
        "good product" or "dispatched".
    people_reached : int or None
        As counted by people; None when nobody counted.
    title, note : str
        Words of whoever makes it; an empty title is filled.
    signed_by : tuple of str
        Lines of the signature block.
    supersedes : str
        Code of the report that it takes the place of.
    """

    from_date: date
    to_date: date
    kind: str = "period"
    programme: str = ""
    source: str = ""
    counts_as: str = "good product"
    people_reached: int | None = None
    title: str = ""
    note: str = ""
    signed_by: tuple[str, ...] = ()
    supersedes: str = ""
