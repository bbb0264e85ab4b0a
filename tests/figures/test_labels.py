"""Labels: squares are read back from the rendered sheets by a reader that is none of ours."""

from __future__ import annotations

import io
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy
import pikepdf
import pytest
from PIL import Image

from recycling.figures.label_sheets import SHEETS, check_print, pages_of, places
from recycling.figures.labels import label_svg, labels_pdf, labels_png, labels_svg, square_mm
from recycling.figures.square_code import square_modules
from recycling.records.labels.labels import Label, LabelPrint
from shared.codes import code_for, label_path
from shared.errors import Collected

zxingcpp = pytest.importorskip("zxingcpp")

ROOT = Path(__file__).parents[2]
DOTS_PER_INCH = 160
MM = DOTS_PER_INCH / 25.4
ADDRESS = "HTTPS://LEDGER.EXAMPLE.ORG"
TOKEN = "MFRGGZDFMZTWQ2LKNNWG23TPOA"
CAUTION = "Not for food contact, mouthing toys or medical use."
LEAST_SQUARE_MM, SMALLEST_SQUARE_MM, LEAST_MODULE_MM = 20, 18, 0.5
GRIDS = [sheet for sheet in SHEETS.values() if sheet.page != "single"]


@dataclass
class Found:
    """A square as the reader saw it: what it says, its page, its corners in mm."""

    text: str
    page: int
    left: float
    top: float
    right: float
    bottom: float
    level: str


def label(number: int, text: str = "") -> Label:
    code = code_for("S", number)
    lines = ("PET, grey-green", "⌀ 1.75 ± 0.05 mm", "Net 748 g; 212 g left on 23 Nov 2026")
    more = (f"Made 23 Nov 2026 · {code_for('R', number)}", "A workshop with rather a long name")
    square = text or ADDRESS + label_path("tidemill", code, TOKEN)
    return Label(code, "spool", square, "Spool of filament", lines + more, CAUTION)


def read_back(pages: list[bytes]) -> list[Found]:
    found = []
    for number, png in enumerate(pages):
        picture = numpy.asarray(Image.open(io.BytesIO(png)).convert("L"))
        for one in zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode):
            at = one.position
            corners = (at.top_left, at.top_right, at.bottom_left, at.bottom_right)
            across, down = [c.x / MM for c in corners], [c.y / MM for c in corners]
            box = (min(across), min(down), max(across), max(down))
            found.append(Found(one.text, number, *box, one.ec_level))
    return found


@pytest.mark.slow
def test_five_hundred_labels_are_read_back_and_every_one_is_right():
    """Squares follow ISO/IEC 18004; zxing-cpp reads what was set, each within its own label."""
    wanted = LabelPrint("a4-3x8", start=5)
    labels = [
        label(number, ADDRESS + label_path("tidemill", code_for("L", number)))
        for number in range(1, 501)
    ]
    found = read_back(labels_png(labels, wanted, "t", DOTS_PER_INCH))
    assert len(found) == 500
    seen = {one.text: one for one in found}
    sheet = SHEETS["a4-3x8"]
    for place, one in zip(places(500, wanted), labels, strict=True):
        square = seen[one.square]
        assert square.page == place.page
        assert place.left_mm < square.left < square.right < place.left_mm + sheet.width_mm
        assert place.top_mm < square.top < square.bottom < place.top_mm + sheet.height_mm
        assert square.level in ("Q", "H")
    assert max(one.page for one in found) + 1 == pages_of(500, wanted) == 21


@pytest.mark.parametrize("key", SHEETS)
@pytest.mark.parametrize("text", [pytest.param("", marks=pytest.mark.slow), "S12-Q"])
def test_every_sheet_is_filled_with_squares_that_are_read_and_large_enough(key, text):
    sheet = SHEETS[key]
    labels = [
        label(number, text and code_for("S", number)) for number in range(1, sheet.labels + 1)
    ]
    found = read_back(labels_png(labels, LabelPrint(key), "t", DOTS_PER_INCH))
    assert {one.text for one in found} == {one.square for one in labels}
    for one in found:
        assert one.page == 0
        least = SMALLEST_SQUARE_MM if text else LEAST_SQUARE_MM
        assert one.right - one.left >= least - 0.35, "a pixel each side is 0.32 mm"
        assert one.bottom - one.top >= least - 0.35


@pytest.mark.slow
@pytest.mark.parametrize("key", SHEETS)
@pytest.mark.parametrize("text", ["", pytest.param("S12-Q", marks=pytest.mark.slow)])
def test_every_square_keeps_its_quiet_zone_on_its_own_label(key, text):
    """ISO/IEC 18004:2015, 5.3.8: four light modules on each side of a symbol."""
    sheet = SHEETS[key]
    labels = [
        label(number, text and code_for("S", number)) for number in range(1, sheet.labels + 1)
    ]
    (png,) = labels_png(labels, LabelPrint(key), "t", DOTS_PER_INCH)
    dark, laid = ink(png), {}
    for place, one in zip(places(sheet.labels, LabelPrint(key)), labels, strict=True):
        laid[one.square] = place
    for one in read_back([png]):
        place, modules = laid[one.text], len(square_modules(one.text))
        side = square_mm(sheet, modules)
        assert one.right - one.left == pytest.approx(side, abs=0.4), "what the reader saw"
        assert side / modules > LEAST_MODULE_MM
        left, top = (one.left + one.right - side) / 2, (one.top + one.bottom - side) / 2
        zone = 4 * side / modules - 0.2
        assert left - zone >= place.left_mm - 0.2 and top - zone >= place.top_mm - 0.2
        assert left + side + zone <= place.left_mm + sheet.width_mm + 0.2
        assert top + side + zone <= place.top_mm + sheet.height_mm + 0.2
        inner = [round(edge * MM) for edge in (top, top + side, left, left + side)]
        left, top = max(round((left - zone) * MM), 0), max(round((top - zone) * MM), 0)
        right, bottom = left + round((side + 2 * zone) * MM), top + round((side + 2 * zone) * MM)
        ring = dark.copy()
        ring[inner[0] - 1 : inner[1] + 2, inner[2] - 1 : inner[3] + 2] = False
        assert not ring[top:bottom, left:right].any(), f"{one.text} of {key}"


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS)
def test_labels_lie_inside_the_page_and_not_on_each_other(sheet):
    laid = list(places(sheet.labels, LabelPrint(sheet.key)))
    assert {one.page for one in laid} == {0}
    boxes = [(one.left_mm, one.top_mm) for one in laid]
    for left, top in boxes:
        assert left >= -1e-9 and left + sheet.width_mm <= sheet.page_width_mm + 1e-9
        assert top >= -1e-9 and top + sheet.height_mm <= sheet.page_height_mm + 1e-9
    for number, (left, top) in enumerate(boxes):
        for other_left, other_top in boxes[:number]:
            beside = abs(left - other_left) >= sheet.width_mm - 1e-9
            below = abs(top - other_top) >= sheet.height_mm - 1e-9
            assert beside or below
    for modules in (21, 25, 29, 33, 37, 41):
        square = square_mm(sheet, modules)
        assert SMALLEST_SQUARE_MM <= square < min(sheet.width_mm, sheet.height_mm)
        assert square + 8 * square / modules <= min(sheet.width_mm, sheet.height_mm)
    below = sheet.page_height_mm - max(top for _, top in boxes) - sheet.height_mm
    assert below == pytest.approx(sheet.top_mm), "the grid lies in the middle of its page"


def ink(png: bytes) -> numpy.ndarray:
    return numpy.asarray(Image.open(io.BytesIO(png)).convert("L")) < 128


@pytest.mark.parametrize("key", SHEETS)
def test_no_word_leaves_its_label(key):
    """All ink of a label lies inside it; a thin rim stays white because nothing is cut off."""
    sheet = SHEETS[key]
    (png,) = labels_png([label(123_456)], LabelPrint(key), "t", DOTS_PER_INCH)
    dark = ink(png)
    rows, columns = numpy.where(dark)
    left, top = sheet.left_mm * MM, sheet.top_mm * MM
    rim = 0.5 * MM
    assert columns.min() >= left + rim and rows.min() >= top + rim
    assert columns.max() <= left + sheet.width_mm * MM - rim
    assert rows.max() <= top + sheet.height_mm * MM - rim


@pytest.mark.parametrize("start", [1, 2, 17, 24])
def test_the_first_label_lies_where_the_sheet_is_still_whole(start):
    wanted = LabelPrint("a4-3x8", start=start)
    (one,) = read_back(labels_png([label(7)], wanted, "t", DOTS_PER_INCH))
    row, column = divmod(start - 1, 3)
    assert one.left // 70 == column
    assert (one.top - 0.5) // 37 == row


def test_the_printers_shift_moves_every_label_by_as_much():
    plain = read_back(labels_png([label(7)] * 3, LabelPrint("a4-3x7"), "t", DOTS_PER_INCH))
    off = LabelPrint("a4-3x7", right_mm=2.5, down_mm=-1.5)
    moved = read_back(labels_png([label(7)] * 3, off, "t", DOTS_PER_INCH))
    pairs = zip(*(sorted(found, key=lambda one: one.left) for found in (plain, moved)), strict=True)
    for before, after in pairs:
        assert after.left - before.left == pytest.approx(2.5, abs=0.2)
        assert after.top - before.top == pytest.approx(-1.5, abs=0.2)


def test_copies_stand_beside_each_other():
    wanted = LabelPrint("a4-2x7", copies=3)
    found = read_back(labels_png([label(1), label(2)], wanted, "t", DOTS_PER_INCH))
    found.sort(key=lambda one: (round(one.top / 38.1), one.left))
    assert [one.text for one in found] == [label(1).square] * 3 + [label(2).square] * 3


def test_all_is_black_on_white():
    (png,) = labels_png([label(1)], LabelPrint("62x29"), "t", 300)
    pixels = numpy.asarray(Image.open(io.BytesIO(png)).convert("RGB")).astype(int)
    assert (pixels.max(axis=2) == pixels.min(axis=2)).all(), "something is coloured"
    assert set(pixels[0, 0]) == {255}


@pytest.mark.parametrize("key", ["a4-3x8", "letter-3x10", "62x29", "100x150"])
def test_the_pdf_has_pages_of_the_sheets_size(key):
    sheet = SHEETS[key]
    made = labels_pdf([label(1)] * (sheet.labels + 1), LabelPrint(key), "Labels")
    with pikepdf.open(io.BytesIO(made)) as pdf:
        assert len(pdf.pages) == 2
        for page in pdf.pages:
            _, _, width, height = (float(one) for one in page.mediabox)
            assert width / 72 * 25.4 == pytest.approx(sheet.page_width_mm, abs=0.05)
            assert height / 72 * 25.4 == pytest.approx(sheet.page_height_mm, abs=0.05)


def test_a_page_by_itself_is_the_same_as_in_the_whole():
    labels = [label(number) for number in range(1, 31)]
    whole = read_back(labels_png(labels, LabelPrint("a4-3x8"), "t", DOTS_PER_INCH))
    svg = labels_svg(labels, LabelPrint("a4-3x8"), "t", 1).decode()
    assert svg.startswith("<svg") and "<text" not in svg
    assert len([one for one in whole if one.page == 1]) == 6
    assert svg.count("<image") + svg.count("data:image/svg") >= 6 or svg.count("<path") > 6
    assert label_svg(label(1), "62x29").startswith(b"<svg")


@pytest.mark.parametrize(
    ("wanted", "lots", "code"),
    [
        (LabelPrint("a4-9x9"), 1, "choice-wrong"),
        (LabelPrint(start=0), 1, "label-start-wrong"),
        (LabelPrint(start=25), 1, "label-start-wrong"),
        (LabelPrint(copies=0), 1, "count-wrong"),
        (LabelPrint(copies=20), 31, "labels-too-many"),
        (LabelPrint(right_mm=15.1), 1, "label-offset-wrong"),
        (LabelPrint(down_mm=-16), 1, "label-offset-wrong"),
    ],
)
def test_what_cannot_be_printed_is_said(wanted, lots, code):
    found = Collected()
    check_print(wanted, lots, found)
    assert [problem.code for problem in found.problems] == [code]
    fine = Collected()
    check_print(LabelPrint(start=24, copies=20, right_mm=-15, down_mm=15), 30, fine)
    assert not fine.problems


SHEETS_IN_A_ROW = """
import psutil
from recycling.figures.labels import labels_pdf
from recycling.records.labels.labels import LabelPrint
from tests.figures.test_labels import label

taken = [psutil.Process().memory_info().rss]
for first in (1, 1001, 2001, 3001):
    labels_pdf([label(first + number) for number in range(96)], LabelPrint(), "t")
    taken.append(psutil.Process().memory_info().rss)
print(taken[1] - taken[0], taken[4] - taken[1])
"""


@pytest.mark.slow
def test_sheet_after_sheet_takes_no_more_memory():
    """Each is other labels, as in a workshop; what the setter kept of one serves no other."""
    done = subprocess.run(
        [sys.executable, "-c", SHEETS_IN_A_ROW], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    first, later = map(int, done.stdout.split())
    assert later < first, "three more sheets took as much again as the first one"
