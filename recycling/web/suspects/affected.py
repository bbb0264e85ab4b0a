"""Acting on a suspicion: hold it with all that descends, list what it reached, send a notice."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from recycling.queries.suspects.affected import affected as affected_query
from recycling.queries.suspects.share_paths import suspect_way
from recycling.records.actors import Actor
from recycling.records.lots.notes import HoldEntry
from recycling.records.suspects.affected import AffectedLot
from recycling.services.lots.holds import hold_place
from recycling.tables.csv_text import kilograms
from recycling.web.pages.press import done_once, pressing, say_refused
from recycling.web.pages.read import address_with, csv_answer, csv_url, reading, wants_csv
from recycling.web.suspects import figures, words
from shared.errors import Refused

MOST_DRAWN = 400
LEAST_MEANT = 0.01
"""Spools that hold less are in a notice only when all are asked for."""

COLUMNS = (
    "lot",
    "form",
    "polymer",
    "share",
    "mass of it, kg",
    "made, kg",
    "on hand, kg",
    "made at",
    "verdicts",
    "on hold",
    "place",
    "went to",
    "document",
    "left, kg",
    "left at",
    "share rests on",
    "least share",
    "most share",
)
WAY_COLUMNS = ("run", "lot", "direction", "role", "mass, kg", "of it, kg", "share")


@reading
def affected(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    found = affected_query(actor, request.GET.get("of", ""))
    table = wants_csv(request)
    if table:
        lots = found.stock if table == "stock" else found.spools
        name = found.code or found.kind
        return csv_answer(f"affected-{name}-{table}", COLUMNS, _rows(lots))
    context = {
        "nav": "suspects",
        "found": found,
        "here": sum(1 for one in found.spools if one.on_hand_mg),
        "gone": sum(1 for one in found.spools if one.handed),
        "spools_csv": csv_url(request, "spools"),
        "stock_csv": csv_url(request, "stock"),
    }
    return render(request, "suspects/affected.html", context)


def _rows(lots: tuple[AffectedLot, ...]) -> list[tuple[object, ...]]:
    rows: list[tuple[object, ...]] = []
    for one in lots:
        said = (
            one.lot,
            one.form,
            one.polymer,
            f"{one.share:.6f}",
            kilograms(one.part_mg),
            kilograms(one.made_mg),
            kilograms(one.on_hand_mg),
            one.made_at,
            one.standing,
            one.held,
            one.place,
        )
        left: list[tuple[object, ...]] = [
            (handed.receiver, handed.document, kilograms(handed.mass_mg), handed.at)
            for handed in one.handed
        ]
        rests = one.rests_on, *(_part(share) for share in (one.least, one.most))
        rows += [(*said, *cells, *rests) for cells in left or [("", "", None, None)]]
    return rows


def _part(share: float | None) -> str:
    return "" if share is None else f"{share:.6f}"


@reading
def notice(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    """Show a notice to print or send: which spools, and what to do with them."""
    found = affected_query(actor, request.GET.get("of", ""))
    every = request.GET.get("all") == "1"
    meant = tuple(one for one in found.spools if every or one.share >= LEAST_MEANT)
    if wants_csv(request):
        return csv_answer(f"notice-{found.code or found.kind}", COLUMNS, _rows(meant))
    context = {
        "nav": "suspects",
        "found": found,
        "meant": meant,
        "spools_csv": csv_url(request, "spools"),
        "left_out": len(found.spools) - len(meant),
        "all_url": address_with(request, all="1"),
    }
    return render(request, "suspects/notice.html", context)


@reading
def way(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    """Show the lineage with the suspect's share flowing through it."""
    found = suspect_way(actor, request.GET.get("of", ""), request.GET.get("spool", ""))
    if wants_csv(request):
        rows = [
            (
                flow.run,
                flow.lot,
                flow.direction,
                flow.role,
                kilograms(flow.mass_mg),
                kilograms(flow.part_mg),
                f"{flow.share:.6f}",
            )
            for flow in found.flows
        ]
        return csv_answer(f"way-{found.code or found.kind}", WAY_COLUMNS, rows)
    lots = len(figures.drawn_lots(found))
    context = {
        "nav": "suspects",
        "way": found,
        "svg": figures.way_drawing(actor.slug, found) if 0 < lots <= MOST_DRAWN else "",
        "finding": figures.way_finding(found),
        "too_large": lots > MOST_DRAWN,
        "undrawn": len(found.lots) - lots,
        "flows": [flow for flow in found.flows if flow.share >= words.TRACE],
        "flows_csv": csv_url(request),
    }
    return render(request, "suspects/way.html", context)


@pressing("hold")
def hold(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Hold a lot, a collection or what a run gave, with all that descends from it."""
    code, of = request.POST.get("target", ""), request.POST.get("of", "")
    reason = request.POST.get("reason", "").strip() or _("suspected of spoiling spools")

    def deed(acting: Actor) -> Any:
        return list(hold_place(acting, HoldEntry(code, reason, with_descendants=True)).holds)

    try:
        done_once(request, actor, deed)
        messages.success(
            request,
            _("%(code)s is on hold with all that descends from it, now and later.")
            % {"code": code},
        )
    except Refused as refused:
        say_refused(request, refused)
    query = urlencode({"of": of or code})
    return redirect(f"{reverse('affected', args=[actor.slug])}?{query}")
