"""A file of entries that was brought: what was found in it, asked about it, and came of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class ImportProblem:
    """One thing that stands against a file.

    Attributes
    ----------
    row : int
        The row of a list, as a spreadsheet counts; the place of an entry in JSON, from 1.
    pointer : str
        The head of the column of a list, or the place within the entry.
    code, detail : str
        A stable name, and what is wrong.
    """

    row: int
    pointer: str
    code: str
    detail: str


@dataclass(frozen=True)
class ImportedLot:
    """A lot that a file makes.

    Attributes
    ----------
    name, code : str
        What the file calls it, and its code once the file is taken.
    row : int
        The row of a list or the place in JSON of what makes it, from 1.
    entry : str
        "collection", "purchase" or "opening"; the stage of a run that makes it.
    at : datetime or None
        When it came in, or when the run ended; noon of the day where a list says no time.
    giver : str
        The source or supplier.
    form, polymer, colour : str
        What is in it.
    mass_mg : int
        Its net mass, in mg.
    """

    name: str
    code: str
    row: int = 0
    entry: str = ""
    at: datetime | None = None
    giver: str = ""
    form: str = ""
    polymer: str = ""
    colour: str = ""
    mass_mg: int = 0


@dataclass(frozen=True)
class ImportChoice:
    """One answer to a question.

    Attributes
    ----------
    key : str
        What is sent as the answer.
    label : str
        What it means.
    example : str
        What it makes of a value of the list.
    """

    key: str
    label: str
    example: str


@dataclass(frozen=True)
class ImportQuestion:
    """What a list leaves open; asked once for a column, a name or a kind of row.

    Attributes
    ----------
    key : str
        By which it is answered.
    about : str
        "number", "date", "unit", "columns", "kind", "source", "programme", "polymer", "fill",
        "hidden", "sheet", "known", "total", "plausible" or "encoding".
    row : int
        The first row that it is about; 0 for the whole list.
    column : str
        The head of the column.
    detail : str
        The question.
    choices : tuple of ImportChoice
        The answers there are.
    """

    key: str
    about: str
    row: int
    column: str
    detail: str
    choices: tuple[ImportChoice, ...]


@dataclass(frozen=True)
class SkippedRow:
    """A row that is left out.

    Attributes
    ----------
    row : int
        Its number.
    why : str
        "title", "blank", "unit", "total", "heads", "example", "hidden", "left out" or "entered
        twice"; a row in the book that was put right in the list is "put right by hand".
    """

    row: int
    why: str


@dataclass(frozen=True)
class KnownRow:
    """A row that is in the book already.

    Attributes
    ----------
    row : int
        Its number.
    lot : str
        Code of its lot.
    """

    row: int
    lot: str


@dataclass(frozen=True)
class ImportColumn:
    """A column of a list, and how it is read.

    Attributes
    ----------
    head : str
        What stands over it.
    field : str
        What it is; empty for one that is left out.
    unit : str
        The unit of its masses, where the head or the row below says it.
    """

    head: str
    field: str
    unit: str


@dataclass(frozen=True)
class ImportCounts:
    """How many rows of a list have which fate.

    Attributes
    ----------
    new, known, skipped, wrong : int
        To be recorded; in the book already; left out; with something against them.
    recorded : int
        Of the new ones, those that are in the book by now.
    """

    new: int = 0
    known: int = 0
    skipped: int = 0
    wrong: int = 0
    recorded: int = 0


@dataclass(frozen=True)
class ImportLineRow:
    """A row of a list with its fate.

    Attributes
    ----------
    row : int
        Its number.
    fate : str
        "new", "known" or "left".
    why : str
        Why it is left out.
    lot : str
        Code of the lot that it is in the book.
    entry : str
        "collection", "purchase" or "opening".
    at : datetime or None
        When it came in; noon of the day where the list says no time.
    giver, form, polymer, colour : str
        From whom, and what.
    mass_mg : int
        Its net mass, in mg.
    """

    row: int
    fate: str
    why: str
    lot: str
    entry: str
    at: datetime | None
    giver: str
    form: str
    polymer: str
    colour: str
    mass_mg: int


@dataclass(frozen=True)
class ImportRow:
    """A file of entries: how far it is, what is in it, and what stands against it.

    Attributes
    ----------
    number : int
        What it is found under.
    name, digest : str
        Its name, and the SHA-256 of its content.
    state : str
        "looking", "asked" (questions are open), "looked" (may be taken), "taking", "taken",
        "failed", "undoing" or "undone".
    done_share : float
        How much of the work at hand is done, from 0 to 1.
    entries : int
        How many entries are in it.
    lots : tuple of ImportedLot
        The first lots that it makes; a long list is read row by row under `rows/`.
    lots_count : int
        How many lots it makes.
    mass_mg : int
        What they weigh together, in mg.
    givers : tuple of str
        The first few who gave or sold it.
    givers_count : int
        How many there are.
    first_at, last_at : datetime or None
        From when until when it came in.
    counts : ImportCounts
        How many rows of a list have which fate.
    questions : tuple of ImportQuestion
        What it leaves open; nothing can be taken before all are answered.
    skipped : tuple of SkippedRow
        The first rows that are left out.
    known : tuple of KnownRow
        The first rows that are in the book already.
    columns : tuple of ImportColumn
        The columns of a list, and how each is read.
    new_sources : tuple of str
        Sources that taking it adds.
    problems : tuple of ImportProblem
        What stands against it; while there is any, nothing of it is recorded.
    more_problems : int
        How many more there are.
    brought_at : datetime
        When it was brought.
    brought_by : str
        By whom.
    taken_at : datetime or None
        When it was taken.
    undo_until : datetime or None
        Until when whoever took it may undo all of it without a reason.
    """

    number: int
    name: str
    digest: str
    state: str
    done_share: float
    entries: int
    lots: tuple[ImportedLot, ...]
    lots_count: int
    mass_mg: int
    givers: tuple[str, ...]
    givers_count: int
    first_at: datetime | None
    last_at: datetime | None
    counts: ImportCounts
    questions: tuple[ImportQuestion, ...]
    skipped: tuple[SkippedRow, ...]
    known: tuple[KnownRow, ...]
    columns: tuple[ImportColumn, ...]
    new_sources: tuple[str, ...]
    problems: tuple[ImportProblem, ...]
    more_problems: int
    brought_at: datetime
    brought_by: str
    taken_at: datetime | None
    undo_until: datetime | None
