"""A report as a document of sections, tables and drawings: one content, many files.

Whoever fills a document decides what it says; whoever sets it (page, PDF, spreadsheet, CSV, JSON)
decides how it looks, and computes nothing. So all files of a report agree to the milligram.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.records.balance.covered import Covered

MASS, SHARE, ENERGY, NUMBER, TEXT, DAY = "mass", "share", "energy", "number", "text", "day"
KINDS = (MASS, SHARE, ENERGY, NUMBER, TEXT, DAY)
"""What a column holds: whole mg, a share of 1, kWh, a plain number with its unit, words, a date."""

HOW = ("", "weighed", "measured", "computed", "estimated", "from memory", "typed", "mixed")
"""Where a column's or a fact's figures come from."""

BARS, STEPS, FLOWS, LINES = "bars", "steps", "flows", "lines"
DRAWINGS = (BARS, STEPS, FLOWS, LINES)
"""Bars, a waterfall of steps, a Sankey of flows, lines over months."""

Cell = int | float | str | None
"""Mass in mg as int; share, energy, number as float or int; text and date (ISO 8601) as str."""


@dataclass(frozen=True)
class Column:
    """A column of a table.

    Attributes
    ----------
    key : str
        Its name in JSON and CSV, with the unit last (``mass_mg``, ``yield_share``).
    title : str
        Its heading for people, without the unit.
    kind : str
        One of ``KINDS``; numbers stand to the right.
    unit : str
        The unit of a ``number`` column, as shown; empty for the other kinds.
    how : str
        One of ``HOW``.
    """

    key: str
    title: str
    kind: str
    unit: str = ""
    how: str = ""


@dataclass(frozen=True)
class Table:
    """Rows under columns.

    Attributes
    ----------
    key : str
        Its name in JSON, its CSV file and its sheet; lower case, no spaces, at most 31 characters.
    caption : str
        What the rows are, in words.
    columns : tuple of Column
    rows : tuple of tuple of Cell
        Each as long as ``columns``; None where nothing is known.
    total : tuple of Cell or None
        A last row that sums up, set apart.
    """

    key: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    total: tuple[Cell, ...] | None = None


@dataclass(frozen=True)
class Drawing:
    """A picture of a table's numbers.

    Attributes
    ----------
    key : str
        Its name.
    kind : str
        One of ``DRAWINGS``.
    finding : str
        The caption, which says what is to be seen.
    alt : str
        The same for whoever cannot see it.
    table : str
        Key of the table in the same section that holds the numbers.
    label, values : str, tuple of str
        Keys of the column that names each mark and of those that measure it. For ``flows``,
        ``label`` names the column where a flow starts, ``target`` where it ends.
    target : str
        For ``flows`` only.
    style : str
        Key of the column that names the role of each mark (product, side, again, waste, loss);
        empty when there is none.
    """

    key: str
    kind: str
    finding: str
    alt: str
    table: str
    label: str
    values: tuple[str, ...]
    target: str = ""
    style: str = ""


@dataclass(frozen=True)
class Fact:
    """One figure that a reader looks for.

    Attributes
    ----------
    key, title : str
        Its name in JSON and in words.
    value : Cell
        In the unit of ``kind``.
    kind, unit, how : str
        As of a column.
    uncertainty : Cell
        Standard uncertainty, in the unit of ``value``; None where there is none.
    note : str
        What it means, in words.
    covered : Covered or None
        What covers 95 % of the truths; None where there is none, and in reports that were frozen
        when each reading counted for itself and ± was a standard uncertainty.
    """

    key: str
    title: str
    value: Cell
    kind: str
    unit: str = ""
    how: str = ""
    uncertainty: Cell = None
    note: str = ""
    covered: Covered | None = None


@dataclass(frozen=True)
class Section:
    """A part of a document.

    Attributes
    ----------
    key, title : str
    text : tuple of str
        Paragraphs, plain words.
    facts : tuple of Fact
    tables : tuple of Table
    drawings : tuple of Drawing
    """

    key: str
    title: str
    text: tuple[str, ...] = ()
    facts: tuple[Fact, ...] = ()
    tables: tuple[Table, ...] = ()
    drawings: tuple[Drawing, ...] = ()


@dataclass(frozen=True)
class Document:
    """A whole report.

    Attributes
    ----------
    kind : str
        ``period`` or ``thanks``.
    title, subtitle : str
        What it is and whom it is about.
    workshop : str
        Who reports.
    zone : str
        The IANA zone in which its days begin and end.
    language : str
        BCP 47.
    start_at, end_at : datetime
        The period, aware; the end is not part of it.
    sequence : int
        The book's sequence it was read at.
    sections : tuple of Section
        In reading order; the first is the reader's page.
    definitions : tuple of tuple of str
        Words used, each with what it means.
    signatures : tuple of str
        Who is to sign, a line each.
    """

    kind: str
    title: str
    subtitle: str
    workshop: str
    zone: str
    language: str
    start_at: datetime
    end_at: datetime
    sequence: int
    sections: tuple[Section, ...]
    definitions: tuple[tuple[str, str], ...] = ()
    signatures: tuple[str, ...] = ()
