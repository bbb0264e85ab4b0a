"""Files for other systems: of a lot's whole trace, or of a period."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import (
    HttpRequest,
    HttpResponse,
    HttpResponseBase,
    QueryDict,
    StreamingHttpResponse,
)
from django.shortcuts import redirect
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.queries.exchange.exports import exported
from recycling.queries.integrity.archives import archives_made
from recycling.queries.lots.traces import ANCESTORS, BOTH, trace
from recycling.records.actors import Actor
from recycling.records.exchange.exports import Exported, ExportWanted
from recycling.records.lots.traces import Trace
from recycling.services.exchange import energies_tell
from recycling.tables.exchange.epcis import epcis_lines
from recycling.tables.exchange.prov import prov_lines
from recycling.web.languages import refusal_words
from recycling.web.pages.periods import Period, asked_period, period_context
from recycling.web.pages.press import pressing
from recycling.web.pages.read import link, reading, show
from shared.codes import read_code
from shared.errors import Refused, Unknown


@dataclass(frozen=True)
class Asked:
    """What the address asks for: a lot as typed, forward or not; else a period."""

    lot: str
    forward: bool
    period: Period

    @property
    def wanted(self) -> ExportWanted:
        if self.lot:
            return ExportWanted(lot=self.lot, forward=self.forward)
        return ExportWanted(start=self.period.start, end=self.period.end)

    @property
    def query(self) -> str:
        if self.lot:
            return urlencode({"lot": self.lot} | ({"forward": "on"} if self.forward else {}))
        days = {"from": self.period.first.isoformat(), "to": self.period.last.isoformat()}
        return urlencode(days)

    @property
    def name(self) -> str:
        first, last = self.period.first.isoformat(), self.period.last.isoformat()
        return (read_code(self.lot) or "lot") if self.lot else f"{first}-{last}"


def _asked(request: HttpRequest) -> Asked:
    lot, forward = request.GET.get("lot", "").strip()[:40], bool(request.GET.get("forward"))
    return Asked(lot, forward, asked_period(request))


@reading
def exports_page(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    """Choose a lot or a period, see how much it is, and fetch the files."""
    asked, found, problem, status = _asked(request), None, "", 200
    if asked.lot:
        try:
            found = trace(actor, asked.lot, BOTH if asked.forward else ANCESTORS)
        except Refused as refused:
            problem, status = refusal_words(refused), refused.status
    context = period_context(request, ())
    if asked.lot:
        context["presets"] = [_of_days(request, one) for one in context["presets"]]
    status = status if asked.lot else context["status"]
    return show(
        request,
        "exchange/exports.html",
        "balance",
        **context | {"status": status},
        asked=asked,
        finding=_finding(asked, found),
        problem=problem,
        files=[] if problem else _files(actor, asked),
        tell_url=_tell_url(actor, asked),
        archive_url=link("export-archive", actor) if actor.may("manage") else "",
        archives=archives_made(actor) if actor.may("manage") else [],
    )


def _of_days(request: HttpRequest, preset: dict[str, Any]) -> dict[str, Any]:
    """Leave the lot out of the address of a usual period."""
    query = QueryDict(preset["url"].partition("?")[2])
    days = urlencode({name: query[name] for name in ("from", "to")})
    return preset | {"url": f"{request.path}?{days}", "current": False}


def _finding(asked: Asked, found: Trace | None) -> str:
    if found is not None:
        counts = {"code": found.lot, "lots": len(found.lots), "runs": len(found.runs)}
        return _("The trace of %(code)s: %(lots)d lots and %(runs)d runs.") % counts
    return ""


def _files(actor: Actor, asked: Asked) -> list[dict[str, Any]]:
    kinds = (
        (
            "export-epcis",
            _("Events, EPCIS 2.0"),
            _("Collecting, runs, dispatches, holds, counts and corrections in JSON-LD (GS1)."),
        ),
        (
            "export-prov",
            _("Lineage, PROV"),
            _("Lots, runs and the masses between them in PROV-JSON (W3C)."),
        ),
    )
    return [
        {"url": f"{reverse(name, args=[actor.slug])}?{asked.query}", "label": label, "about": about}
        for name, label, about in kinds
    ]


def _tell_url(actor: Actor, asked: Asked) -> str:
    tells = actor.may("report")
    return f"{reverse('export-epcis-tell', args=[actor.slug])}?{asked.query}" if tells else ""


@reading
def export_epcis(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    kind = "application/ld+json"
    kind = f"{kind}; charset=utf-8"
    return _file(request, actor, exported, epcis_lines, kind, "epcis.jsonld")


@pressing("report")
def export_epcis_tell(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Tell the energies of what is chosen; fetching the file alone changes nothing."""
    asked = _asked(request)
    if asked.lot or not asked.period.problems:
        try:
            figures = energies_tell(actor, asked.wanted).figures
            said = ngettext(
                "%(count)d energy is told from now on.",
                "%(count)d energies are told from now on.",
                figures,
            )
            none = _("All energies known of it were told before.")
            messages.success(request, said % {"count": figures} if figures else none)
        except Unknown:
            pass  # the page says what is wrong with the lot
    return _back(request, actor)


@reading
def export_prov(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    read = partial(exported, events=False)
    return _file(request, actor, read, prov_lines, "application/json", "prov.json")


def _back(request: HttpRequest, actor: Actor) -> HttpResponse:
    return redirect(f"{reverse('exports', args=[actor.slug])}?{request.GET.urlencode()}")


def _file(
    request: HttpRequest,
    actor: Actor,
    read: Callable[[Actor, ExportWanted], Exported],
    write: Callable[[Exported], Iterator[str]],
    kind: str,
    ending: str,
) -> HttpResponseBase:
    asked = _asked(request)
    back = _back(request, actor)
    if asked.period.problems and not asked.lot:
        return back
    try:
        found = read(actor, asked.wanted)
    except Refused:
        return back
    answer = StreamingHttpResponse(write(found), content_type=kind)
    name = f"{actor.slug}-{asked.name}-{ending}"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


urlpatterns = [
    path("exports/", exports_page, name="exports"),
    path("exports/epcis/", export_epcis, name="export-epcis"),
    path("exports/epcis/tell/", export_epcis_tell, name="export-epcis-tell"),
    path("exports/prov/", export_prov, name="export-prov"),
]
