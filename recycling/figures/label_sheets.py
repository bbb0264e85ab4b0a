"""Common sheets and single labels, by their sizes, and where each label lies on its page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from recycling.records.labels.labels import LabelPrint, LabelSheet
from shared.errors import Collected
from shared.said import say

INCH_MM = 25.4
A4 = ("A4", 210.0, 297.0)
LETTER = ("Letter", 8.5 * INCH_MM, 11 * INCH_MM)
MOST_LABELS = 600
MOST_COPIES = 20
MOST_OFFSET_MM = 15.0


def _grid(
    page: tuple[str, float, float],
    across: tuple[int, float, float],
    down: tuple[int, float],
    margin_mm: float,
) -> LabelSheet:
    """Lay a grid in the middle of a page: labels across, their width and step; down, and height."""
    name, page_width, page_height = page
    columns, width, step_x = across
    rows, height = down
    return LabelSheet(
        key=f"{name.lower()}-{columns}x{rows}",
        page=name,
        page_width_mm=page_width,
        page_height_mm=page_height,
        columns=columns,
        rows=rows,
        width_mm=width,
        height_mm=height,
        left_mm=(page_width - (columns - 1) * step_x - width) / 2,
        top_mm=(page_height - rows * height) / 2,
        step_x_mm=step_x,
        step_y_mm=height,
        margin_mm=margin_mm,
    )


def _single(width_mm: float, height_mm: float) -> LabelSheet:
    size = (width_mm, height_mm)
    key = f"{width_mm:g}x{height_mm:g}"
    return LabelSheet(key, "single", *size, 1, 1, *size, 0.0, 0.0, *size, margin_mm=1.5)


_LISTED = (
    _grid(A4, (3, 70.0, 70.0), (8, 37.0), 4.0),
    _grid(A4, (3, 63.5, 66.0), (7, 38.1), 2.5),
    _grid(A4, (2, 99.1, 101.6), (7, 38.1), 3.0),
    _grid(A4, (2, 99.1, 101.6), (4, 67.7), 3.5),
    _grid(A4, (2, 105.0, 105.0), (2, 148.5), 6.0),
    _grid(LETTER, (3, 2.625 * INCH_MM, 2.75 * INCH_MM), (10, INCH_MM), 2.0),
    _grid(LETTER, (2, 4 * INCH_MM, 4.1875 * INCH_MM), (5, 2 * INCH_MM), 3.0),
    _grid(LETTER, (2, 4 * INCH_MM, 4.1875 * INCH_MM), (3, 10 * INCH_MM / 3), 3.5),
    _grid(LETTER, (2, 4.25 * INCH_MM, 4.25 * INCH_MM), (2, 5.5 * INCH_MM), 6.0),
    _single(50, 30),
    _single(62, 29),
    _single(57, 32),
    _single(100, 50),
    _single(100, 150),
    _single(4 * INCH_MM, 6 * INCH_MM),
)

SHEETS: dict[str, LabelSheet] = {sheet.key: sheet for sheet in _LISTED}
"""Sheets by key; sizes as they are sold by many makers, none of whom is meant."""


@dataclass(frozen=True)
class Place:
    """Where one label lies: its number among all, its page (from 0), left and top edge in mm."""

    number: int
    page: int
    left_mm: float
    top_mm: float


def places(count: int, wanted: LabelPrint) -> Iterator[Place]:
    """Give each of so many labels its place, row by row, from the start that is wanted.

    Examples
    --------
    >>> last = list(places(2, LabelPrint("a4-3x8", start=24)))[-1]
    >>> last.page, last.left_mm, last.top_mm
    (1, 0.0, 0.5)
    """
    sheet = SHEETS[wanted.sheet]
    for number in range(count):
        page, cell = divmod(number + wanted.start - 1, sheet.labels)
        row, column = divmod(cell, sheet.columns)
        yield Place(
            number,
            page,
            sheet.left_mm + column * sheet.step_x_mm + wanted.right_mm,
            sheet.top_mm + row * sheet.step_y_mm + wanted.down_mm,
        )


def pages_of(count: int, wanted: LabelPrint) -> int:
    """Return how many pages so many labels take.

    Examples
    --------
    >>> pages_of(24, LabelPrint("a4-3x8")), pages_of(24, LabelPrint("a4-3x8", start=2))
    (1, 2)
    """
    return -(-(count + wanted.start - 1) // SHEETS[wanted.sheet].labels)


def alone(sheet: LabelSheet) -> LabelSheet:
    """Return a page that is just one label of a sheet."""
    return replace(
        sheet,
        page="single",
        page_width_mm=sheet.width_mm,
        page_height_mm=sheet.height_mm,
        columns=1,
        rows=1,
        left_mm=0.0,
        top_mm=0.0,
    )


def check_print(wanted: LabelPrint, lots: int, found: Collected) -> None:
    """Note what cannot be printed: an unknown sheet, a start, offset or number out of bounds."""
    sheet = SHEETS.get(wanted.sheet)
    if sheet is None:
        detail = say("Sheets are: {sheets}.", sheets=", ".join(SHEETS))
        found.add("choice-wrong", detail, "/sheet")
    elif not 1 <= wanted.start <= sheet.labels:
        detail = say("This sheet has {labels} labels; start at one of them.", labels=sheet.labels)
        found.add("label-start-wrong", detail, "/start")
    if not 1 <= wanted.copies <= MOST_COPIES:
        detail = say("Print 1 to {most} of each.", most=MOST_COPIES)
        found.add("count-wrong", detail, "/copies")
    elif lots * wanted.copies > MOST_LABELS:
        detail = say("Up to {most} labels are made at once; choose fewer.", most=MOST_LABELS)
        found.add("labels-too-many", detail, "/lots")
    for name in ("right_mm", "down_mm"):
        if abs(getattr(wanted, name)) > MOST_OFFSET_MM:
            detail = say(
                "Up to {most:g} mm either way; a printer that is further off is set.",
                most=MOST_OFFSET_MM,
            )
            found.add("label-offset-wrong", detail, f"/{name}")
