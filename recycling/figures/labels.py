"""Labels on paper: PDF pages, or the same pages as SVG; typeset from a template that only sets."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cache
from math import floor
from pathlib import Path
from typing import Any

from recycling.figures.label_sheets import SHEETS, alone, places
from recycling.figures.shapes import SHAPES, SIGNS, Shape, markup
from recycling.figures.square_code import square_svg
from recycling.records.labels.labels import Label, LabelPrint, LabelSheet
from shared.printed import boxed

TEMPLATE = Path(__file__).parent / "paper" / "labels.typ"
FONTS = TEMPLATE.parent / "fonts"
LEAST_SQUARE_MM, MOST_SQUARE_MM = 20.0, 46.0
QUIET_MODULES = 4
"""ISO/IEC 18004:2015, 5.3.8: so wide a light zone stands around a symbol, on its own label."""
SHARE_OF_WIDTH = 0.4
MANY = 30
KEPT_FOR = 12
TALL = 1.15
"""A label that is so much higher than wide has its square above the words."""


def labels_pdf(labels: Sequence[Label], wanted: LabelPrint, title: str) -> bytes:
    """Return the pages as one PDF."""
    return _set(label_data(labels, wanted, title), "pdf")[0]


def labels_svg(labels: Sequence[Label], wanted: LabelPrint, title: str, page: int) -> bytes:
    """Return one page, counted from 0, as an SVG whose letters are drawn: it needs no font."""
    return _set(label_data(labels, wanted, title, page), "svg")[0]


def label_svg(label: Label, sheet: str) -> bytes:
    """Return one label of a sheet's size by itself, as an SVG."""
    return _set(_data([label], alone(SHEETS[sheet]), [(0, 0, 0.0, 0.0)], label.code), "svg")[0]


def labels_png(
    labels: Sequence[Label], wanted: LabelPrint, title: str, dots_per_inch: float
) -> list[bytes]:
    """Return each page as a picture, for machines that print nothing else."""
    return _set(label_data(labels, wanted, title), "png", ppi=dots_per_inch)


def _set(data: dict[str, Any], kind: Any, **more: Any) -> list[bytes]:
    import typst

    made = typst.compile(
        TEMPLATE.read_bytes(),
        root=str(TEMPLATE.parent),
        format=kind,
        font_paths=_fonts(),
        sys_inputs={"labels": json.dumps(data, ensure_ascii=False)},
        **more,
    )
    if len(data["labels"]) > MANY:
        _forget()
    return made if isinstance(made, list) else [made]


def _forget() -> None:
    """Let the setter forget what it keeps, about a megabyte a label, for setting the same anew.

    It drops what its last few pieces did not use, and has no other way to be told.
    """
    import typst

    for _ in range(KEPT_FOR):
        typst.compile(b"", format="svg", font_paths=_fonts())


@cache
def _fonts() -> Any:
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=[str(FONTS)])


def square_mm(sheet: LabelSheet, modules: int) -> float:
    """Return how large a label's square is drawn, mm: 20 or more, but never into its quiet zone.

    `modules` is how many the symbol has across. A short label makes a symbol of few, large modules
    smaller than 20 mm, for they and their quiet zone must fit on it.

    Examples
    --------
    >>> from recycling.figures.label_sheets import SHEETS
    >>> square_mm(SHEETS["62x29"], 33), square_mm(SHEETS["100x150"], 33)
    (23.34, 46.0)
    >>> square_mm(SHEETS["letter-3x10"], 21)
    18.39
    """
    room = sheet.height_mm - 2 * sheet.margin_mm
    if sheet.height_mm <= TALL * sheet.width_mm:
        room = min(room, SHARE_OF_WIDTH * sheet.width_mm)
    else:
        room = min(room, sheet.width_mm - 2 * sheet.margin_mm) * 0.6
    wished = max(LEAST_SQUARE_MM, min(room, MOST_SQUARE_MM))
    share = modules / (modules + 2 * QUIET_MODULES)
    return floor(100 * min(wished, share * min(sheet.height_mm, sheet.width_mm))) / 100


def label_data(
    labels: Sequence[Label], wanted: LabelPrint, title: str, page: int | None = None
) -> dict[str, Any]:
    """Return all that the template sets, of one page where one is named."""
    copied = [number for number in range(len(labels)) for _ in range(wanted.copies)]
    placed = [
        (copied[one.number], one.page, one.left_mm, one.top_mm)
        for one in places(len(copied), wanted)
    ]
    if page is not None:
        shown = [one for one in placed if one[1] == page]
        needed = sorted({one[0] for one in shown})
        labels = [labels[number] for number in needed]
        placed = [(needed.index(number), 0, left, top) for number, _, left, top in shown]
    return _data(labels, SHEETS[wanted.sheet], placed, title)


def _data(
    labels: Sequence[Label],
    sheet: LabelSheet,
    placed: Sequence[tuple[int, int, float, float]],
    title: str,
) -> dict[str, Any]:
    return {
        "title": title,
        "page": {"width": sheet.page_width_mm, "height": sheet.page_height_mm},
        "size": {
            "width": sheet.width_mm,
            "height": sheet.height_mm,
            "margin": sheet.margin_mm,
            "tall": sheet.height_mm > TALL * sheet.width_mm,
        },
        "pages": 1 + max((page for _, page, _, _ in placed), default=0),
        "placed": [
            {"label": label, "page": page, "left": left, "top": top}
            for label, page, left, top in placed
        ],
        "labels": [_label(label, sheet) for label in labels],
        "shapes": {
            key: _drawn(SHAPES.get(key, SIGNS["other"]))
            for key in sorted({label.shape for label in labels})
        },
        "sign": _drawn(SIGNS["late"]),
    }


def _label(label: Label, sheet: LabelSheet) -> dict[str, Any]:
    """Give the words of a label, boxes for the signs that the fonts lack, and say so below."""
    lines = [boxed(line) for line in label.lines]
    if label.missing and tuple(lines) != label.lines:
        lines.append(label.missing)
    square = square_svg(label.square)
    modules = int(square.split('viewBox="0 0 ')[1].split()[0])
    return {
        "code": label.code,
        "shape": label.shape,
        "square": square,
        "modules": modules,
        "across": square_mm(sheet, modules),
        "what": label.what,
        "lines": lines,
        "caution": label.caution,
    }


def _drawn(shape: Shape) -> str:
    paths = markup(shape).replace("currentColor", "#000")
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24">{paths}</svg>'
