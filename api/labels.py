"""Labels as files: a PDF of sheets, or one label as SVG."""

from __future__ import annotations

import re

from django.http import HttpResponse
from django.urls import path
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request

from api.protocol.asking import Ask, asked, choice, number
from api.protocol.authentication import actor_of
from api.protocol.description import describe_file
from api.protocol.requests import Door
from recycling.figures.label_sheets import MOST_COPIES, MOST_LABELS, MOST_OFFSET_MM, SHEETS
from recycling.queries.labels.files import labels_as_pdf, lot_label_as_svg
from recycling.records.actors import Actor
from recycling.records.labels.labels import LabelPrint
from shared.errors import Refused

LONGEST_LIST = 16 * MOST_LABELS
_MILLIMETRES = re.compile(r"^-?[0-9]{1,3}(\.[0-9]{1,3})?$", re.ASCII)


def _read_codes(value: str, actor: Actor) -> list[str]:
    if len(value) > LONGEST_LIST or not value.isprintable():
        raise Refused.because("text-unreadable", "Codes of lots with commas between them.")
    return [code for code in re.split(r"[\s,]+", value) if code]


def _read_millimetres(value: str, actor: Actor) -> float:
    if not _MILLIMETRES.match(value):
        raise Refused.because("number-wanted", "Millimetres, as 1.5 or -0.5.")
    return float(value)


def _shift(name: str, about: str) -> Ask:
    schema = {"type": "number", "minimum": -MOST_OFFSET_MM, "maximum": MOST_OFFSET_MM}
    return Ask(name, about, _read_millimetres, schema)


LOTS = Ask(
    "lots",
    "Codes with commas between them; a run or collection stands for all its lots.",
    _read_codes,
    {"type": "string", "maxLength": LONGEST_LIST},
    "codes",
    list,
)
SHEET = choice("sheet", "Page and grid, or width and height of single labels in mm.", tuple(SHEETS))
PRINT = (
    SHEET,
    number("start", "Place of the first label, row by row; 1 is the top left one.", 1, 99),
    number("copies", "How many of each.", 1, MOST_COPIES),
    _shift("right_mm", "Shift to the right against the printer's error."),
    _shift("down_mm", "Shift down against the printer's error."),
)


class PdfRenderer(BaseRenderer):
    media_type, format = "application/pdf", "pdf"


class SvgRenderer(BaseRenderer):
    media_type, format = "image/svg+xml", "svg"


class LabelsApi(Door):
    needs = {"GET": "read"}

    def get_renderers(self) -> list[BaseRenderer]:
        return [PdfRenderer(), JSONRenderer()]

    @describe_file({PdfRenderer.media_type}, "The sheets.", (LOTS, *PRINT))
    def get(self, request: Request) -> HttpResponse:
        """Make labels of lots, ready to print at 100 %."""
        wanted = asked(request, (LOTS, *PRINT))
        codes = wanted.pop("codes")
        pdf = labels_as_pdf(actor_of(request), codes, LabelPrint(**wanted))
        return HttpResponse(pdf, content_type=PdfRenderer.media_type)


class LotLabelApi(Door):
    needs = {"GET": "read"}

    def get_renderers(self) -> list[BaseRenderer]:
        return [SvgRenderer(), JSONRenderer()]

    @describe_file({SvgRenderer.media_type}, "The label, its letters drawn.", (SHEET,))
    def get(self, request: Request, code: str) -> HttpResponse:
        """Draw the label of a lot."""
        svg = lot_label_as_svg(actor_of(request), code, **asked(request, (SHEET,)))
        return HttpResponse(svg, content_type=SvgRenderer.media_type)


urlpatterns = [
    path("lots/<str:code>/label.svg", LotLabelApi.as_view()),
    path("labels/", LabelsApi.as_view()),
]
