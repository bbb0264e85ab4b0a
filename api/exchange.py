"""Files for other systems: events as GS1 EPCIS 2.0, lineage as W3C PROV."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from typing import Any

from django.http import HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.urls import path
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request

from api.protocol.asking import asked, flag, moment, text
from api.protocol.authentication import actor_of
from api.protocol.description import describe_file
from api.protocol.requests import Door, records
from recycling.queries.exchange.exports import exported
from recycling.records.actors import Actor
from recycling.records.exchange.exports import Exported, ExportWanted
from recycling.records.exchange.tellings import EnergiesTold, TellingEntry
from recycling.services.exchange import energies_tell
from recycling.tables.exchange.epcis import epcis_lines
from recycling.tables.exchange.prov import prov_lines

LARGE = 2_000
"""From so many entries or edges on a file is sent piece by piece."""
WANTED = (
    text("lot", "Code of a lot or spool: its whole way back to what came in."),
    flag("forward", "With a lot: what it went into as well."),
    moment("from", "Start of the period; without it the start of the book.", "start"),
    moment("to", "End of the period, not in it; without it now.", "end"),
)


class LinkedDataRenderer(JSONRenderer):
    media_type = "application/ld+json"
    format = "jsonld"


def gives_file(
    media_type: str, about: str, write: Callable[[Exported], Iterator[str]]
) -> Callable[[Any], Any]:
    """Make a door's method that gives a file of what a query read."""

    def wrap(query: Callable[..., Exported]) -> Any:
        @describe_file({media_type, JSONRenderer.media_type}, about, WANTED)
        @functools.wraps(query)
        def get(self: Door, request: Request) -> HttpResponseBase:
            found = query(self, actor_of(request), ExportWanted(**asked(request, WANTED)))
            kind = request.accepted_renderer.media_type
            if len(found.entries) + len(found.trace.edges) > LARGE:
                return StreamingHttpResponse(write(found), content_type=kind)
            return HttpResponse("".join(write(found)), content_type=kind)

        return get

    return wrap


class ExportsEpcisApi(Door):
    needs = {"GET": "read", "POST": "report"}

    def get_renderers(self) -> list[BaseRenderer]:
        return [LinkedDataRenderer(), JSONRenderer()]

    @gives_file(LinkedDataRenderer.media_type, "A GS1 EPCIS 2.0 document in JSON-LD.", epcis_lines)
    def get(self, actor: Actor, wanted: ExportWanted) -> Exported:
        """Tell what happened, as GS1 EPCIS 2.0 events: of a lot's whole trace, or of a period."""
        return exported(actor, wanted)

    @records(TellingEntry, EnergiesTold)
    def post(self, actor: Actor, entry: TellingEntry) -> EnergiesTold:
        """Tell the energies that the file has: one that changes later is declared wrong."""
        return energies_tell(actor, entry.wanted)


class ExportsProvApi(Door):
    needs = {"GET": "read"}

    @gives_file(JSONRenderer.media_type, "A W3C PROV document in PROV-JSON.", prov_lines)
    def get(self, actor: Actor, wanted: ExportWanted) -> Exported:
        """Tell what lots come from, as W3C PROV: of a lot's whole trace, or of a period."""
        return exported(actor, wanted, events=False)


urlpatterns = [
    path("exports/epcis/", ExportsEpcisApi.as_view()),
    path("exports/prov/", ExportsProvApi.as_view()),
]
