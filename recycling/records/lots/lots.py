"""Lots as people and programs see them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.records.lots.changes import ChangeRow
from recycling.records.lots.deviations import DeviationRow


@dataclass(frozen=True)
class LotRow:
    """A lot in a list.

    Attributes
    ----------
    code, form, polymer, colour, role : str
        Its code, what it is, and its role in the run that made it.
    mass_mg, made_mg : int
        What is on hand and what its run gave, in mg.
    run, stage : str
        The run that made it and that run's stage.
    made_at : datetime
        When it was made.
    spool, held, stale : bool
        Whether it is a spool, is on hold, and waits for its composition to be recomputed.
    """

    code: str
    form: str
    polymer: str
    colour: str
    role: str
    mass_mg: int
    made_mg: int
    run: str
    stage: str
    made_at: datetime | None
    spool: bool
    held: bool
    stale: bool


@dataclass(frozen=True)
class LotUse:
    """A run that drew from a lot.

    Attributes
    ----------
    run, stage, state : str
        The run, its stage, and whether it is open, closed or void.
    mass_mg : int
        Mass drawn in mg, corrections included.
    at : datetime
        When the run started.
    receiver : str
        Whom it went to, where it left.
    """

    run: str
    stage: str
    state: str
    mass_mg: int
    at: datetime
    receiver: str = ""


@dataclass(frozen=True)
class PostingRow:
    """A posting, with who, when and why.

    Attributes
    ----------
    posting, sequence : int
        Its id, and the number of its entry in the book.
    kind : str
        What posted it: "receive", "run", "draw", "output", "loss", "close", "count", "restate",
        "correct", "rechain" or "void".
    run, stage : str
        The run it belongs to, and that run's stage.
    account : str
        "lot", "process" or the name of a border account.
    lot : str
        Code of the lot, empty for other accounts.
    polymer : str
        What the mass is made of.
    mass_mg : int
        Mass in mg; plus is into the account.
    happened_at, written_at : datetime
        When it happened and when it was written.
    by, reason, key : str
        Who wrote it, why, and the idempotency key it came with.
    corrects : int or None
        The posting that it corrects.
    """

    posting: int
    sequence: int
    kind: str
    run: str
    stage: str
    account: str
    lot: str
    polymer: str
    mass_mg: int
    happened_at: datetime
    written_at: datetime
    by: str
    reason: str
    key: str
    corrects: int | None


@dataclass(frozen=True)
class HoldRow:
    """A hold.

    Attributes
    ----------
    hold : int
        Its id.
    lot, form : str
        The lot it was put on, and its form.
    with_descendants : bool
        Whether all that descends from the lot is held too.
    reason, placed_by : str
        Why, and who placed it.
    placed_at : datetime
        When.
    released_at : datetime or None
        When it was released; None while it is in force.
    released_by, release_reason : str
        Who released it, and why.
    """

    hold: int
    lot: str
    form: str
    with_descendants: bool
    reason: str
    placed_by: str
    placed_at: datetime
    released_at: datetime | None
    released_by: str
    release_reason: str


@dataclass(frozen=True)
class LotEventRow:
    """Something that happened to a lot besides its mass.

    Attributes
    ----------
    kind, place, note, by : str
        What, where to, what else, and who noted it.
    happened_at : datetime
        When.
    """

    kind: str
    place: str
    note: str
    by: str
    happened_at: datetime


@dataclass(frozen=True)
class VerdictRow:
    """What a user said of a spool.

    Attributes
    ----------
    good : bool
        Whether it printed well.
    defects : tuple of str
        What was wrong.
    note : str
        In the user's words.
    given_at : datetime
        When.
    """

    good: bool
    defects: tuple[str, ...]
    note: str
    given_at: datetime


@dataclass(frozen=True)
class SpoolFacts:
    """What makes a lot a spool.

    Attributes
    ----------
    serial : str
        Its serial, which is the lot's code.
    diameter_mm, tolerance_mm, length_m : float
        Nominal diameter, tolerance, and length where it was measured.
    tare_mg : int or None
        Mass of the empty spool, in mg.
    continues : tuple of str
        Codes that it had before it was dried again, the latest first.
    """

    serial: str
    diameter_mm: float
    tolerance_mm: float | None
    length_m: float | None
    tare_mg: int | None
    continues: tuple[str, ...] = ()


@dataclass(frozen=True)
class LotRecord:
    """All there is to know of a lot.

    Attributes
    ----------
    code, form, polymer, colour, role, note : str
        Its code, what it is, its role in the run that made it, and what else was noted.
    mass_mg, made_mg : int
        What is on hand and what its run gave, in mg.
    count : int or None
        Number of pieces, where they were counted.
    how : str
        How its mass became known: "weighed", "counted" or "estimated".
    run, stage : str
        The run that made it and that run's stage.
    made_at : datetime or None
        When; None while the run is open.
    origin : str
        Code of its collection, purchase or opening count, where it came in as it is.
    machine : str
        For a heel: the machine it is in.
    spool : SpoolFacts or None
        For a spool.
    holds : tuple of HoldRow
        Holds in force, those that spread to it included.
    stale : bool
        Whether its composition waits to be recomputed.
    uses : tuple of LotUse
        Runs that drew from it.
    postings, events : tuple
        Every posting on it, and what happened to it besides its mass, in order.
    verdicts : tuple of VerdictRow
        What users said of it; the newest of each giver.
    changes, deviations : tuple
        What was put right of it, as written; what was unusual on its way, the latest first.
    """

    code: str
    form: str
    polymer: str
    colour: str
    role: str
    note: str
    mass_mg: int
    made_mg: int
    count: int | None
    how: str
    run: str
    stage: str
    made_at: datetime | None
    origin: str
    machine: str
    spool: SpoolFacts | None
    holds: tuple[HoldRow, ...]
    stale: bool
    uses: tuple[LotUse, ...]
    postings: tuple[PostingRow, ...]
    events: tuple[LotEventRow, ...]
    verdicts: tuple[VerdictRow, ...]
    changes: tuple[ChangeRow, ...]
    deviations: tuple[DeviationRow, ...]
