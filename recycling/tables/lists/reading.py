"""A list as people keep it, read step by step: what it says, what it leaves open, what is wrong.

Bytes become sheets of cells, a table with heads, columns, one notation for each column, rows.
Each step leaves its evidence; nothing is guessed that two readings allow.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from recycling.tables.lists.asking import Asking, Choice
from recycling.tables.lists.cells import Sheet, shown
from recycling.tables.lists.columns import columns_known, kind_of_all, source_column, table_chosen
from recycling.tables.lists.days import When, moments_of
from recycling.tables.lists.encodings import text_of
from recycling.tables.lists.fates import ListRow
from recycling.tables.lists.heads import Column
from recycling.tables.lists.known import USUAL_LARGEST_MG, Known
from recycling.tables.lists.masses import Mass, masses_of
from recycling.tables.lists.names import (
    polymer_for_all,
    polymers_of,
    programmes_of,
    source_for_all,
    sources_of,
)
from recycling.tables.lists.parting import MOST_ROWS, rows_of
from recycling.tables.lists.row_texts import check_names, fields_of, text_in
from recycling.tables.lists.table import (
    Line,
    Table,
    check_merged,
    hidden_asked,
    lines_of,
)
from recycling.tables.lists.words import (
    AT,
    POLYMER,
    PROGRAMME,
    SOURCE,
)
from shared.errors import Refused
from shared.said import say

LEFT_OUT = "left out"


@dataclass(frozen=True)
class ReadList:
    """What was read of a list.

    Attributes
    ----------
    rows : sequence of ListRow
        Its entries; complete only where nothing is asked and nothing is wrong.
    columns : sequence of Column
        What stands over each column, and what it is.
    signature : str
        Its heads, folded.
    asking : Asking
        Questions, problems, and rows that are left out.
    """

    rows: Sequence[ListRow]
    columns: Sequence[Column]
    signature: str
    asking: Asking

    @property
    def new_sources(self) -> tuple[str, ...]:
        """Names of givers in its rows."""
        return tuple(dict.fromkeys(row.source for row in self.rows if row.source))


def sheets_of_text(
    data: bytes, known: Known, asking: Asking, tick: Callable[[], None]
) -> list[Sheet] | None:
    """Read the bytes of a text as one sheet; None while its encoding is asked.

    Raises
    ------
    Refused
        When it is no text, or too much.
    """
    text = text_of(data, known.names, asking)
    return None if text is None else [Sheet("", rows_of(text, tick), parted=True)]


def read_sheets(
    sheets: Sequence[Sheet], known: Known, asking: Asking, tick: Callable[[], None] = lambda: None
) -> ReadList:
    """Read the list in sheets of cells.

    Raises
    ------
    Refused
        When no sheet holds a list.
    """
    table = table_chosen(sheets, known, asking)
    if table is None:
        return ReadList((), (), "", asking)
    heads = table.signature
    asking.remembered = {**known.answers.get("", {}), **known.answers.get(heads, {})}
    if len(table.rows) > MOST_ROWS:
        said = say("At most {most} rows; split the file.", most=MOST_ROWS)
        raise Refused.because("too-many-rows", said, f"/{MOST_ROWS + 1}")
    seen = hidden_asked(table, asking)
    shown_table = replace(table, rows=[row for row in table.rows if not row.hidden])
    matched = columns_known(seen or shown_table, asking)
    if matched is None:
        return ReadList((), table.columns, heads, asking)
    kind = kind_of_all(matched, asking)
    if kind == "collection":
        with_source = source_column(matched, asking)
        matched, kind = with_source or matched, kind if with_source else None
    lines, totals = lines_of(matched, asking)
    check_merged(matched, asking)
    tick()
    filling = _filling(lines, matched, kind or "", asking)
    if filling is None:
        lines = [line for line in lines if not _gaps(line, matched, kind or "")]
    elif filling == "leave":
        gaps = [line.number for line in lines if _gaps(line, matched, kind or "")]
        asking.skipped.update(dict.fromkeys(gaps, LEFT_OUT))
        lines = [line for line in lines if line.number not in asking.skipped]
    weighed = replace(known, largest_mg=USUAL_LARGEST_MG) if kind == "purchase" else known
    masses = masses_of(lines, matched, totals, weighed, asking)
    tick()
    moments = moments_of(lines, matched, known, filling == "above", asking)
    tick()
    rows = _rows(lines, matched, kind, filling == "above", known, asking, masses, moments)
    asking.found.problems.sort(key=lambda one: int(one.pointer.split("/")[1] or 0))
    return ReadList(rows, matched.columns, heads, asking)


def _gaps(line: Line, table: Table, kind: str) -> list[str]:
    """Name the fields that are empty in a row, and filled above it."""
    wanted = [AT, POLYMER] + ([SOURCE] if kind == "collection" else [])
    return [
        named
        for named in wanted
        if table.of(named) and not line.at(table.of(named)[0].place) and named in line.above
    ]


def _filling(lines: Sequence[Line], table: Table, kind: str, asking: Asking) -> str | None:
    """Ask whether empty cells mean what stands above; empty where there are none."""
    first = next((line for line in lines if _gaps(line, table, kind)), None)
    if first is None:
        return ""
    named = _gaps(first, table, kind)
    column = table.of(named[0])[0]
    above = ", ".join(shown(first.above[one])[:40] for one in named)
    return asking.ask(
        "fill",
        "fill",
        say(
            "Row {row} is empty under “{head}”. Does it mean what stands above?",
            row=first.number,
            head=column.head,
        ),
        [
            Choice("above", say("As above"), above),
            Choice("leave", say("Leave such rows out")),
        ],
        first.number,
        column.head,
    )


def _said(
    lines: Sequence[Line], column: Column | None, filling: bool
) -> dict[str, tuple[int, str]]:
    """List the texts of a column, each with the first row that has it."""
    said: dict[str, tuple[int, str]] = {}
    for line in lines:
        text = text_in(line, column, filling)
        if text and column is not None:
            said.setdefault(text, (line.number, column.head))
    return said


def _rows(
    lines: Sequence[Line],
    table: Table,
    kind: str | None,
    filling: bool,
    known: Known,
    asking: Asking,
    masses: Mapping[int, Mass] | None,
    moments: Mapping[int, When] | None,
) -> list[ListRow]:
    one = {column.field: column for column in reversed(table.columns) if column.field}
    sources = sources_of(_said(lines, one.get(SOURCE), filling), known, asking)
    polymers = polymers_of(_said(lines, one.get(POLYMER), filling), known, asking)
    programmes = programmes_of(_said(lines, one.get(PROGRAMME), False), known, asking)
    for_all = {
        POLYMER: "" if POLYMER in one else polymer_for_all(known, asking),
        SOURCE: source_for_all(known, asking) if kind == "collection" and SOURCE not in one else "",
    }
    rows = []
    for line in lines:
        texts = {named: text_in(line, column, filling and named in (SOURCE, POLYMER))
                 for named, column in one.items()}  # fmt: skip
        fields = fields_of(line, texts, one, kind, asking)
        polymer = polymers.get(texts.get(POLYMER, ""), (for_all[POLYMER] or "", ""))
        source = sources.get(texts.get(SOURCE, ""), for_all[SOURCE])
        if polymer is None or (source is None and texts.get(SOURCE) in sources):
            asking.skipped[line.number] = LEFT_OUT
            continue
        fields["polymer"] = polymer[0]
        fields["form"] = fields["form"] or polymer[1] or "bottles"
        if fields["kind"] == "collection":
            fields["source"] = source or ""
            fields["programme"] = programmes.get(texts.get(PROGRAMME, ""), "")
        check_names(line, texts, fields, one, asking)
        if masses is None or moments is None or line.number in asking.skipped:
            continue
        mass, when = masses.get(line.number), moments.get(line.number)
        if mass is not None and when is not None:
            rows.append(_row(line, fields, mass, when, known))
    return rows


def _row(line: Line, fields: Mapping[str, Any], mass: Mass, when: When, known: Known) -> ListRow:
    at: datetime = when.at
    day = at.astimezone(ZoneInfo(known.zone)).date()
    return ListRow(line.number, at, when.timed, day, mass.mg, about=mass.about, **fields)
