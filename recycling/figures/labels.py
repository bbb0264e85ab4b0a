"""Labels on paper: PDF pages, or the same pages as SVG; typeset from a template that only sets."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

from recycling.figures.label_sheets import SHEETS, alone, places
from recycling.figures.shapes import SHAPES, SIGNS, Shape, markup
from recycling.figures.square_code import square_svg
from recycling.records.labels import Label, LabelPrint, LabelSheet

TEMPLATE = Path(__file__).parent / "paper" / "labels.typ"
FONTS = TEMPLATE.parent / "fonts"
LEAST_SQUARE_MM, MOST_SQUARE_MM = 20.0, 46.0
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


def square_mm(width_mm: float, height_mm: float, margin_mm: float) -> float:
    """Return how large a label's square is drawn, mm: at least 20, the more the larger the label.

    Examples
    --------
    >>> square_mm(62, 29, 1.5), square_mm(100, 150, 1.5)
    (24.8, 46.0)
    """
    room = height_mm - 2 * margin_mm
    if height_mm <= TALL * width_mm:
        room = min(room, SHARE_OF_WIDTH * width_mm)
    else:
        room = min(room, width_mm - 2 * margin_mm) * 0.6
    return max(LEAST_SQUARE_MM, min(round(room, 2), MOST_SQUARE_MM))


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
            "square": square_mm(sheet.width_mm, sheet.height_mm, sheet.margin_mm),
            "tall": sheet.height_mm > TALL * sheet.width_mm,
        },
        "pages": 1 + max((page for _, page, _, _ in placed), default=0),
        "placed": [
            {"label": label, "page": page, "left": left, "top": top}
            for label, page, left, top in placed
        ],
        "labels": [_label(label) for label in labels],
        "shapes": {
            key: _drawn(SHAPES.get(key, SIGNS["other"]))
            for key in sorted({label.shape for label in labels})
        },
        "sign": _drawn(SIGNS["late"]),
    }


def _label(label: Label) -> dict[str, Any]:
    square = square_svg(label.square)
    return {
        "code": label.code,
        "shape": label.shape,
        "square": square,
        "modules": int(square.split('viewBox="0 0 ')[1].split()[0]),
        "what": label.what,
        "lines": list(label.lines),
        "caution": label.caution,
    }


def _drawn(shape: Shape) -> str:
    paths = markup(shape).replace("currentColor", "#000")
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24">{paths}</svg>'
