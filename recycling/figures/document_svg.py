"""The drawings of a report as SVG, made from the rows of its tables and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from recycling.calc.lots.lineage import LineageCycle
from recycling.figures.flows_svg import bars_svg, sankey_svg, waterfall_svg
from recycling.figures.lines_svg import ROLES, Line, lines_svg
from recycling.figures.shapes import LINES as STYLES
from recycling.records.drawings import Bar, Bars, DrawnFlow, FlowNode, Flows, Step, Waterfall
from recycling.records.reports.documents import (
    BARS,
    ENERGY,
    FLOWS,
    LINES,
    MASS,
    SHARE,
    STEPS,
    Cell,
    Column,
    Document,
    Drawing,
    Section,
    Table,
)

AGAIN = {"again": "recirculate"}
WHOLE = frozenset({"", "input", "total"})
"""Roles of a step that stands on zero: what there was, and what is left."""
FINE = 1_000_000

Words = Callable[[int], str]


def document_svgs(document: Document) -> dict[str, str]:
    """Return every drawing of a document by its section's and its own key, joined by a hyphen."""
    return {
        f"{section.key}-{drawing.key}": drawing_svg(section, drawing)
        for section in document.sections
        for drawing in section.drawings
        if table_of(section, drawing).rows
    }


def table_of(section: Section, drawing: Drawing) -> Table:
    """Return the table that holds a drawing's numbers; ValueError when it has none."""
    for table in section.tables:
        if table.key == drawing.table:
            return table
    raise ValueError(f"{drawing.key!r} draws the table {drawing.table!r}, which is not there")


def drawing_svg(section: Section, drawing: Drawing) -> str:
    """Return a drawing of a section's table; ValueError for a kind, column or role of no sense."""
    kinds = {BARS: _bars, STEPS: _steps, FLOWS: _flows, LINES: _lines}
    if drawing.kind not in kinds:
        raise ValueError(f"no drawing of the kind {drawing.kind!r}")
    read = _Reading(drawing, table_of(section, drawing))
    return kinds[drawing.kind](drawing, read, f"{section.key}-{drawing.key}")


@dataclass(frozen=True)
class _Reading:
    """A table seen through the columns that a drawing names."""

    drawing: Drawing
    table: Table

    @property
    def rows(self) -> tuple[tuple[Cell, ...], ...]:
        return self.table.rows

    def place(self, key: str) -> int:
        keys = [column.key for column in self.table.columns]
        if key not in keys:
            raise ValueError(f"{self.drawing.key!r} names the column {key!r}; there are {keys}")
        return keys.index(key)

    def text(self, row: tuple[Cell, ...], key: str) -> str:
        cell = row[self.place(key)]
        return "" if cell is None else str(cell)

    def column(self, key: str) -> Column:
        return self.table.columns[self.place(key)]

    def value(self, row: tuple[Cell, ...], key: str) -> float | None:
        cell = row[self.place(key)]
        return cell if isinstance(cell, int | float) else None

    def fine(self, row: tuple[Cell, ...], key: str) -> int:
        """Read a value as a whole number: mg, or millionths of another unit."""
        value = self.value(row, key) or 0
        return round(value if self.column(key).kind == MASS else value * FINE)

    def role(self, row: tuple[Cell, ...], usual: str) -> str:
        if not self.drawing.style:
            return usual
        role = self.text(row, self.drawing.style)
        role = AGAIN.get(role, role)
        return role if role in STYLES else usual

    @property
    def said(self) -> Words:
        """Say a value of the first measured column, read by :meth:`fine`, with its unit."""
        one = self.column(self.drawing.values[0])
        return lambda fine: _said(fine if one.kind == MASS else fine / FINE, one)


def _said(value: float, column: Column) -> str:
    if column.kind == MASS:
        return f"{value / FINE:,.3f} kg"
    if column.kind == SHARE:
        return f"{100 * value:.1f} %"
    unit = "kWh" if column.kind == ENERGY else column.unit
    return f"{value:,.6g} {unit}".rstrip()


def _words(drawing: Drawing, read: _Reading) -> tuple[str, str]:
    return read.table.caption, drawing.alt or drawing.finding


def _bars(drawing: Drawing, read: _Reading, key: str) -> str:
    several = len(drawing.values) > 1
    bars = tuple(
        Bar(
            f"{read.text(row, drawing.label)}, {read.column(value).title}"
            if several
            else read.text(row, drawing.label),
            read.fine(row, value),
            read.role(row, ROLES[place % len(ROLES)]),
        )
        for row in read.rows
        for place, value in enumerate(drawing.values)
        if read.value(row, value) is not None
    )
    return bars_svg(Bars(*_words(drawing, read), bars), read.said, key)


def _steps(drawing: Drawing, read: _Reading, key: str) -> str:
    """Draw a waterfall; a step without a change stands on zero, as high as what is left."""
    change, *left = drawing.values
    steps = []
    for place, row in enumerate(read.rows):
        height, whole = read.fine(row, change), place == 0
        if left and (whole or not height):
            height, whole = read.fine(row, left[0]), True
        elif drawing.style and read.text(row, drawing.style) in WHOLE:
            whole = True
        role = read.role(row, "input" if whole else "product")
        steps.append(Step(read.text(row, drawing.label), height, role, whole))
    return waterfall_svg(Waterfall(*_words(drawing, read), tuple(steps)), read.said, key)


def _flows(drawing: Drawing, read: _Reading, key: str) -> str:
    """Draw a Sankey; where flows go in a circle, each end of a name gets a node of its own."""
    try:
        return _sankey(drawing, read, key, ("", ""))
    except LineageCycle:
        return _sankey(drawing, read, key, ("from ", "to "))


def _sankey(drawing: Drawing, read: _Reading, key: str, sides: tuple[str, str]) -> str:
    (value,) = drawing.values
    flows = tuple(
        DrawnFlow(
            sides[0] + read.text(row, drawing.label),
            sides[1] + read.text(row, drawing.target),
            read.fine(row, value),
            read.role(row, "product"),
        )
        for row in read.rows
        if read.fine(row, value) > 0
    )
    ends = {flow.target: flow.role for flow in flows}
    starts = {flow.source for flow in flows}
    names = {flow.source: sides[0] for flow in flows} | {flow.target: sides[1] for flow in flows}
    nodes = tuple(
        FlowNode(name, name.removeprefix(side), "input" if name in starts else ends[name])
        for name, side in names.items()
    )
    return sankey_svg(Flows(*_words(drawing, read), nodes, flows), read.said, key)


def _lines(drawing: Drawing, read: _Reading, key: str) -> str:
    scale = FINE if read.column(drawing.values[0]).kind == MASS else 1
    lines = []
    for place, value in enumerate(drawing.values):
        held = [read.value(row, value) for row in read.rows]
        values = tuple(None if one is None else one / scale for one in held)
        lines.append(Line(read.column(value).title, ROLES[place % len(ROLES)], values))
    column = read.column(drawing.values[0])
    places = [read.text(row, drawing.label) for row in read.rows]
    return lines_svg(
        _words(drawing, read), places, lines, lambda one: _said(one * scale, column), key
    )
