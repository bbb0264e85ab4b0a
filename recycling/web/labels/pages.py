"""Labels of lots: chosen, looked at, and printed as PDF or straight from the browser."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import ngettext

from recycling.figures.label_sheets import SHEETS, pages_of
from recycling.queries.labels.files import (
    check_labels,
    labels_as_pdf,
    labels_page_as_svg,
    lot_label_as_svg,
)
from recycling.queries.labels.labels import labels_of
from recycling.queries.lots.lots import lots_page
from recycling.records.actors import Actor
from recycling.records.labels.labels import LabelLot, LabelPrint
from recycling.records.lots.filters import LotFilter
from recycling.services.labels import links_give
from recycling.web.labels.asking import (
    FIELDS,
    LabelForm,
    codes_asked,
    form_asked,
    paper_of,
    query_of,
    remember,
)
from recycling.web.languages import in_language
from recycling.web.pages.press import done_once, pressing, say_refused
from recycling.web.pages.read import reading
from shared.errors import Refused, Unknown

NEWEST = 24


@dataclass(frozen=True)
class Laid:
    """Labels laid on pages: addresses of the pages' pictures, of the PDF and of the print page."""

    pages: tuple[str, ...]
    pdf: str
    on_screen: str


@reading
def labels(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    """Choose lots and a sheet, and see the pages before they are printed."""
    codes, form = codes_asked(request), form_asked(request)
    lots: list[LabelLot] = []
    laid, status = None, 200
    try:
        lots = labels_of(actor, codes) if codes else []
        if codes and form.is_valid():
            check_labels(form.wanted(), len(lots))
            laid = _laid(request, actor, [lot.code for lot in lots], form.wanted())
            remember(request, form.wanted())
    except Refused as refused:
        _add(form, refused)
    if codes and laid is None:
        status = 422
    shown = {
        "nav": "stock",
        "lots": lots,
        "codes": " ".join(lot.code for lot in lots) or " ".join(codes),
        "form": form,
        "laid": laid,
        "closed": [lot for lot in lots if lot.may_be_public and not lot.public],
        "newest": () if codes else lots_page(actor, LotFilter(state="on hand"), "", NEWEST).rows,
    }
    return render(request, "labels/labels.html", shown, status=status)


@pressing("read")
def choose(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Take a choice of any length, and lead to its labels by a short address."""
    asked = {name: request.POST[name] for name in FIELDS if request.POST.get(name)}
    question = query_of(request, codes_asked(request), **asked)
    return redirect(f"{reverse('labels', args=[actor.slug])}?{question}")


def _add(form: LabelForm, refused: Refused) -> None:
    form.is_valid()
    for problem in refused.problems:
        name = problem.pointer.strip("/")
        form.add_error(name if name in form.fields else None, in_language(problem.detail))


def _laid(request: HttpRequest, actor: Actor, codes: list[str], wanted: LabelPrint) -> Laid:
    question = query_of(request, codes, **paper_of(wanted))
    count = pages_of(len(codes) * wanted.copies, wanted)
    picture = reverse("labels-page", args=[actor.slug])
    return Laid(
        tuple(f"{picture}?{question}&page={page}" for page in range(1, count + 1)),
        f"{reverse('labels-pdf', args=[actor.slug])}?{question}",
        f"{reverse('labels-print', args=[actor.slug])}?{question}",
    )


def _asked(request: HttpRequest) -> tuple[list[str], LabelPrint]:
    form = form_asked(request)
    if not form.is_valid():
        raise Unknown.because("labels-none", "There is nothing to print at this address.")
    return codes_asked(request), form.wanted()


@reading
def as_pdf(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    codes, wanted = _asked(request)
    try:
        pdf = labels_as_pdf(actor, codes, wanted)
    except Refused:
        return redirect(f"{reverse('labels', args=[actor.slug])}?{request.GET.urlencode()}")
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="labels.pdf"'
    return _unkept(answer)


@reading
def page(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    """Draw one page."""
    codes, wanted = _asked(request)
    number = request.GET.get("page", "1")
    whole = int(number) if number.isascii() and number.isdigit() and len(number) < 5 else 0
    return _svg(_drawn(lambda: labels_page_as_svg(actor, codes, wanted, whole)))


@reading
def printed(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    """Show the pages and nothing else, for browsers that print."""
    codes, wanted = _asked(request)
    try:
        lots = labels_of(actor, codes)
        check_labels(wanted, len(lots))
    except Refused:
        return redirect(f"{reverse('labels', args=[actor.slug])}?{request.GET.urlencode()}")
    laid = _laid(request, actor, [lot.code for lot in lots], wanted)
    shown = {"laid": laid, "sheet": wanted.sheet, "count": len(lots) * wanted.copies}
    return _unkept(render(request, "labels/print.html", shown))


@reading
def paper(request: HttpRequest, actor: Actor, sheet: str) -> HttpResponseBase:
    """Say how large a page is; inline styles are not allowed, and sizes differ."""
    known = SHEETS.get(sheet)
    if known is None:
        raise Unknown.because("choice-wrong", "There is no such sheet.")
    width, height = known.page_width_mm, known.page_height_mm
    rules = (
        f"@page {{ size: {width:g}mm {height:g}mm; margin: 0; }}\n"
        f".label-paper {{ width: {width:g}mm; height: {height:g}mm; }}\n"
    )
    return HttpResponse(rules, content_type="text/css; charset=utf-8")


@reading
def lot_label(request: HttpRequest, actor: Actor, code: str) -> HttpResponseBase:
    """Draw the label of one lot."""
    sheet = request.GET.get("sheet", "62x29")
    return _svg(_drawn(lambda: lot_label_as_svg(actor, code, sheet)))


def _drawn(draw: Callable[[], bytes]) -> bytes:
    """Draw; where what was asked cannot be drawn, nothing is at the address."""
    try:
        return draw()
    except Unknown:
        raise
    except Refused as refused:
        raise Unknown(*refused.problems) from refused


@reading
def lot_labels(request: HttpRequest, actor: Actor, code: str) -> HttpResponseBase:
    """Lead from a lot, run or collection to its labels."""
    return redirect(f"{reverse('labels', args=[actor.slug])}?{urlencode({'lots': code})}")


@pressing("record")
def links(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Give public addresses to the spools whose labels are to be printed."""
    codes = codes_asked(request)
    try:
        given = done_once(
            request, actor, lambda acting: [one.lot for one in links_give(acting, codes)]
        )
        said = ngettext(
            "%(count)s spool has a public address now; its square opens it.",
            "%(count)s spools have a public address now; their squares open it.",
            len(given),
        )
        messages.success(request, said % {"count": len(given)})
    except Refused as refused:
        say_refused(request, refused)
    back = request.POST.get("back", "")
    question = query_of(request, codes_asked_of(back) or codes)
    return redirect(f"{reverse('labels', args=[actor.slug])}?{question}")


def codes_asked_of(text: str) -> list[str]:
    """Read the codes of the page that was left."""
    return [code for code in text.split() if len(code) <= 40]


def _svg(drawn: bytes) -> HttpResponse:
    return _unkept(HttpResponse(drawn, content_type="image/svg+xml"))


def _unkept(answer: Any) -> Any:
    """Keep public addresses, which stand in squares, out of caches."""
    answer["Cache-Control"] = "no-store"
    return answer
