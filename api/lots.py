"""Lots: lists, one whole, its lineage, and what happens to it besides its mass.

Collections, purchases and opening counts.
Holds in force, and their release.
"""

from __future__ import annotations

from typing import Any

from django.urls import path

from api.protocol.answers import LotNoted
from api.protocol.asking import FORM, PAGING, POLYMER, STAGE, TEXT, WITHIN, choice, flag, text
from api.protocol.bodies import (
    CollectionBody,
    HoldBody,
    LotEventBody,
    OpeningBody,
    PurchaseBody,
    ReasonBody,
)
from api.protocol.declared import entry_of, renamed_in
from api.protocol.requests import Door, lists, records, shows
from recycling.queries.lots.holds import holds
from recycling.queries.lots.lots import lot_page, lots_page
from recycling.queries.lots.origins import lot_origins, origin_page, origin_spools, origins_page
from recycling.queries.lots.stock import stock
from recycling.queries.lots.traces import trace
from recycling.records.actors import Actor
from recycling.records.lots.changes import LotChange, OriginChange
from recycling.records.lots.filters import LotFilter
from recycling.records.lots.lots import HoldRow, LotRecord, LotRow
from recycling.records.lots.notes import HoldEntry, LotEventEntry
from recycling.records.lots.origin_entries import COLLECTION, OPENING, PURCHASE, OriginEntry
from recycling.records.lots.origins import LotOrigins, OriginRecord, OriginRow, SpoolShare
from recycling.records.lots.stock import Stock
from recycling.records.lots.traces import Trace
from recycling.records.paging import Page
from recycling.records.recorded import HoldPlaced, OriginRecorded
from recycling.services.lots.facts import lot_change, origin_change
from recycling.services.lots.holds import hold_place, hold_release
from recycling.services.lots.lot_notes import lot_event
from recycling.services.lots.origin_record import origin_record

STATE = choice("state", "What is left of the lot.", ("on hand", "used up", "held"))
COLOUR = text("colour", "Colour of the lot.")
ORIGIN = text("origin", "Code of a collection, purchase or opening count that is in it.")
SPOOLS = flag("spools", "Spools only.")


class LotsApi(Door):
    needs = {"GET": "read"}

    @lists(LotRow, FORM, POLYMER, COLOUR, STATE, STAGE, ORIGIN, TEXT, SPOOLS, *WITHIN, *PAGING)
    def get(self, actor: Actor, after: str = "", limit: int = 50, **asked: Any) -> Page[LotRow]:
        """List lots, newest first."""
        return lots_page(actor, LotFilter(**asked), after, limit)


class LotApi(Door):
    http_method_names = ["get", "head", "patch"]
    needs = {"GET": "read", "PATCH": "correct"}

    @shows(LotRecord, rows_of=lambda lot: lot.postings, tagged=True)
    def get(self, actor: Actor, code: str) -> LotRecord:
        """Show all there is to know of a lot; as CSV, its postings."""
        return lot_page(actor, code)

    @records(LotChange, LotRecord, 200, guard=lot_page)
    def patch(self, actor: Actor, change: LotChange, code: str) -> LotRecord:
        """Put right what was said of a lot, with a reason; its mass is corrected by posting."""
        return lot_change(actor, code, change)


class LotOriginsApi(Door):
    needs = {"GET": "read"}

    @shows(LotOrigins, rows_of=lambda lot: lot.origins)
    def get(self, actor: Actor, code: str) -> LotOrigins:
        """Show who is in a lot and how much; parts and traces add up to its mass exactly."""
        return lot_origins(actor, code)


class LotAncestorsApi(Door):
    needs = {"GET": "read"}

    @shows(Trace, rows_of=lambda found: found.edges)
    def get(self, actor: Actor, code: str) -> Trace:
        """Walk back from a lot to where it came from; as CSV, the edges."""
        return trace(actor, code, "ancestors")


class LotDescendantsApi(Door):
    needs = {"GET": "read"}

    @shows(Trace, rows_of=lambda found: found.edges)
    def get(self, actor: Actor, code: str) -> Trace:
        """Walk forth from a lot to what became of it; as CSV, the edges."""
        return trace(actor, code, "descendants")


class LotHoldsApi(Door):
    needs = {"POST": "hold"}

    @records(HoldBody, HoldPlaced, renamed={"/target": ""}, guard=lot_page)
    def post(self, actor: Actor, body: HoldBody, code: str) -> HoldPlaced:
        """Put a lot on hold, with or without all that descends from it."""
        return hold_place(actor, HoldEntry(code, body.reason, body.with_descendants))


class LotEventsApi(Door):
    needs = {"POST": "record"}

    @records(LotEventBody, LotNoted, renamed={"/lot": ""}, guard=lot_page)
    def post(self, actor: Actor, body: LotEventBody, code: str) -> LotNoted:
        """Note that a lot was sealed, opened, moved or printed from."""
        entry = LotEventEntry(code, body.kind, body.happened_at, body.place, body.note)
        return LotNoted(lot_event(actor, entry))


SOURCE = text("source", "Name of the source.")
PROGRAMME = text("programme", "Name of the programme.")
KINDS = {"collections": "collection", "purchases": "purchase", "openings": "opening"}


class CollectionsApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @lists(OriginRow, SOURCE, PROGRAMME, TEXT, *WITHIN, *PAGING)
    def get(self, actor: Actor, **asked: Any) -> Page[OriginRow]:
        """List collections, newest first."""
        return origins_page(actor, kind=COLLECTION, **asked)

    @records(CollectionBody, OriginRecorded, renamed=renamed_in(OriginEntry, COLLECTION))
    def post(self, actor: Actor, body: Any) -> OriginRecorded:
        """Record a collection; each bag becomes a lot."""
        return origin_record(actor, entry_of(OriginEntry, COLLECTION, body))


class PurchasesApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @lists(OriginRow, TEXT, *WITHIN, *PAGING)
    def get(self, actor: Actor, **asked: Any) -> Page[OriginRow]:
        """List purchases, newest first."""
        return origins_page(actor, kind=PURCHASE, **asked)

    @records(PurchaseBody, OriginRecorded, renamed=renamed_in(OriginEntry, PURCHASE))
    def post(self, actor: Actor, body: Any) -> OriginRecorded:
        """Record a purchase of purge compound or pellets; each bag becomes a lot."""
        return origin_record(actor, entry_of(OriginEntry, PURCHASE, body))


class OpeningsApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @lists(OriginRow, TEXT, *WITHIN, *PAGING)
    def get(self, actor: Actor, **asked: Any) -> Page[OriginRow]:
        """List opening counts, newest first."""
        return origins_page(actor, kind=OPENING, **asked)

    @records(OpeningBody, OriginRecorded, renamed=renamed_in(OriginEntry, OPENING))
    def post(self, actor: Actor, body: Any) -> OriginRecorded:
        """Record stock found when the book starts, or a machine's first heel."""
        return origin_record(actor, entry_of(OriginEntry, OPENING, body))


class OriginApi(Door):
    http_method_names = ["get", "head", "patch"]
    needs = {"GET": "read", "PATCH": "correct"}

    @shows(OriginRecord, rows_of=lambda record: record.fate, tagged=True)
    def get(self, actor: Actor, code: str) -> OriginRecord:
        """Show a collection, purchase or opening count and what became of every gram of it."""
        return origin_page(actor, code)

    @records(OriginChange, OriginRecord, 200, guard=origin_page)
    def patch(self, actor: Actor, change: OriginChange, code: str) -> OriginRecord:
        """Put right who gave, what it counts towards, who received it, with a reason."""
        return origin_change(actor, code, change)


class OriginSpoolsApi(Door):
    needs = {"GET": "read"}

    @lists(SpoolShare)
    def get(self, actor: Actor, code: str) -> list[SpoolShare]:
        """List every spool that descends from it, with its share."""
        return origin_spools(actor, code)


class OriginHoldsApi(Door):
    needs = {"POST": "hold"}

    @records(HoldBody, HoldPlaced, renamed={"/target": ""})
    def post(self, actor: Actor, body: HoldBody, code: str) -> HoldPlaced:
        """Put every lot of a collection on hold, with or without all that descends from them."""
        return hold_place(actor, HoldEntry(code, body.reason, body.with_descendants))


ACTIVE = flag("active", "true for holds in force, which is usual; false for released ones.")


class HoldsApi(Door):
    needs = {"GET": "read"}

    @lists(HoldRow, ACTIVE)
    def get(self, actor: Actor, active: bool = True) -> list[HoldRow]:
        """List the newest 200 holds."""
        return holds(actor, active)


class HoldReleaseApi(Door):
    needs = {"POST": "release"}

    @records(ReasonBody, HoldPlaced, status=200)
    def post(self, actor: Actor, body: ReasonBody, hold: int) -> HoldPlaced:
        """Release a hold, with a reason."""
        return hold_release(actor, hold, body.reason)


class StockApi(Door):
    needs = {"GET": "read"}

    @shows(Stock, rows_of=lambda found: found.rows)
    def get(self, actor: Actor) -> Stock:
        """Show what is on hand by form and polymer, on hold, and in process."""
        return stock(actor)


urlpatterns = [
    path("collections/", CollectionsApi.as_view()),
    path("purchases/", PurchasesApi.as_view()),
    path("openings/", OpeningsApi.as_view()),
    path("collections/<str:code>/", OriginApi.as_view()),
    path("collections/<str:code>/spools/", OriginSpoolsApi.as_view()),
    path("collections/<str:code>/holds/", OriginHoldsApi.as_view()),
    path("lots/", LotsApi.as_view()),
    path("lots/<str:code>/", LotApi.as_view()),
    path("lots/<str:code>/origins/", LotOriginsApi.as_view()),
    path("lots/<str:code>/ancestors/", LotAncestorsApi.as_view()),
    path("lots/<str:code>/descendants/", LotDescendantsApi.as_view()),
    path("lots/<str:code>/holds/", LotHoldsApi.as_view()),
    path("lots/<str:code>/events/", LotEventsApi.as_view()),
    path("holds/", HoldsApi.as_view()),
    path("holds/<int:hold>/release/", HoldReleaseApi.as_view()),
    path("stock/", StockApi.as_view()),
]
