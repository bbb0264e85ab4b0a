"""What is told to other systems: runs as they were entered and put right, and what happened."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from recycling.records.lots.traces import Trace

HELD, RELEASED, JUDGED = "held", "released", "judged"
"""What happens to a lot besides the kinds of its own events."""


@dataclass(frozen=True)
class ExportWanted:
    """What to export: a lot's whole trace, or a period; without either the whole book.

    Attributes
    ----------
    lot : str
        Code of a lot.
    forward : bool
        With a lot: what it went into as well.
    start, end : datetime or None
        The period; the end is not in it.
    """

    lot: str = ""
    forward: bool = False
    start: datetime | None = None
    end: datetime | None = None


@dataclass(frozen=True, slots=True)
class ExportPosting:
    """A posting of an entry.

    Attributes
    ----------
    posting : int
        Its id.
    account, lot : str
        "lot", "process" or the name of a border account; the lot's code.
    mass_mg : int
        Mass in mg; plus is into the account.
    corrects : int or None
        The posting that it corrects.
    """

    posting: int
    account: str
    lot: str
    mass_mg: int
    corrects: int | None


@dataclass(frozen=True, slots=True)
class ExportEntry:
    """An entry of the book.

    Attributes
    ----------
    sequence : int
        Its number in the book.
    run, kind : str
        The run it belongs to, and what posted it.
    happened_at, written_at : datetime
        When it happened and when it was written.
    postings : tuple of ExportPosting
        Its postings, in order.
    """

    sequence: int
    run: str
    kind: str
    happened_at: datetime
    written_at: datetime
    postings: tuple[ExportPosting, ...]


@dataclass(frozen=True, slots=True)
class ExportLog:
    """A measured quantity that was noted during a run.

    Attributes
    ----------
    key, unit : str
        What was noted, and its unit.
    value : float
        The number.
    at : datetime
        When.
    """

    key: str
    unit: str
    value: float
    at: datetime


@dataclass(frozen=True, slots=True)
class ExportEnergy:
    """What is or was said of a run's energy.

    Attributes
    ----------
    number : int
        The how manieth figure it is.
    kwh : float or None
        Energy, where some was known.
    method : str
        How it became known.
    told_at : datetime
        When it was first told; when it was read, if nobody told it yet.
    told : bool
        Whether somebody told it; only then is it declared wrong when it changes.
    """

    number: int
    kwh: float | None
    method: str
    told_at: datetime
    told: bool = True


@dataclass(frozen=True, slots=True)
class ExportRun:
    """A run.

    Attributes
    ----------
    code, stage, state : str
        Its code, its stage, and whether it is open, closed or void.
    machine : int or None
        Id of its machine.
    started_at : datetime
        When it began.
    ended_at, voided_at : datetime or None
        When it ended, and when it was voided.
    origin : str
        Code of the origin it received.
    destination : str
        Where what was discarded went.
    roles : tuple of str
        Roles of those who worked on it.
    logs : tuple of ExportLog
        What was measured.
    counted : tuple of (str, int)
        Lots that it counted, each with the mass found, in mg.
    energies : tuple of ExportEnergy
        What was told of its energy, the last as it is known now.
    """

    code: str
    stage: str
    state: str
    machine: int | None
    started_at: datetime
    ended_at: datetime | None
    voided_at: datetime | None = None
    origin: str = ""
    destination: str = ""
    roles: tuple[str, ...] = ()
    logs: tuple[ExportLog, ...] = ()
    counted: tuple[tuple[str, int], ...] = ()
    energies: tuple[ExportEnergy, ...] = ()


@dataclass(frozen=True, slots=True)
class ExportLot:
    """A lot.

    Attributes
    ----------
    code, form, polymer, colour, role : str
        Its code, what it is, and its role in the run that made it.
    made_mg : int
        Mass as made, in mg.
    spool : bool
        Whether it is a spool.
    """

    code: str
    form: str
    polymer: str
    colour: str
    role: str
    made_mg: int
    spool: bool


@dataclass(frozen=True, slots=True)
class ExportOrigin:
    """Where mass came from; a source only with its consent.

    Attributes
    ----------
    code, kind : str
        Its code, and "collection", "purchase" or "opening".
    source : int or None
        Id of a source that may be named.
    source_kind, source_name : str
        What kind of source, and its name.
    """

    code: str
    kind: str
    source: int | None = None
    source_kind: str = ""
    source_name: str = ""


@dataclass(frozen=True, slots=True)
class Happening:
    """Something that happened to a lot without moving mass.

    Attributes
    ----------
    kind, key : str
        What happened, and what tells it from all others of its kind.
    lot : str
        The lot's code.
    happened_at, written_at : datetime
        When it happened and when it was written.
    spreads : bool
        For a hold: whether it spreads to what descends from the lot.
    good : bool
        For a verdict: whether the spool printed well.
    defects : tuple of str
        For a verdict: what was wrong.
    wrong_at : datetime or None
        When it no longer stood.
    right : str
        Key of what stands in its place.
    """

    kind: str
    key: str
    lot: str
    happened_at: datetime
    written_at: datetime
    spreads: bool = False
    good: bool = True
    defects: tuple[str, ...] = ()
    wrong_at: datetime | None = None
    right: str = ""


@dataclass(frozen=True)
class Exported:
    """All that an export is written from, read in one snapshot.

    Attributes
    ----------
    identity : UUID
        What stays the same of the workshop wherever it is kept.
    slug, zone, address : str
        Its short name, its time zone, and the configured address of the service, if any.
    read_at : datetime
        When it was read.
    sequence : int
        How far the book went then.
    wanted : ExportWanted
        What was asked for.
    trace : Trace
        Lots, runs and masses between them.
    runs, lots, origins : dict
        By code.
    entries : tuple of ExportEntry
        Entries of these runs, in order of the book.
    happenings : tuple of Happening
        What happened to lots besides.
    """

    identity: UUID
    slug: str
    zone: str
    address: str
    read_at: datetime
    sequence: int
    wanted: ExportWanted
    trace: Trace
    runs: dict[str, ExportRun] = field(default_factory=dict)
    lots: dict[str, ExportLot] = field(default_factory=dict)
    origins: dict[str, ExportOrigin] = field(default_factory=dict)
    entries: tuple[ExportEntry, ...] = ()
    happenings: tuple[Happening, ...] = ()
