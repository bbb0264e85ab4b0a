"""Collections, purchases and opening counts."""

from __future__ import annotations

from typing import Any

from api.asking import PAGING, TEXT, text
from api.bodies import CollectionBody, HoldBody, OpeningBody, PurchaseBody
from api.doors import Door, lists, records, shows
from recycling.queries.origins import origin_page, origin_spools, origins_page
from recycling.records.actors import Actor
from recycling.records.entries import HoldEntry, OriginEntry
from recycling.records.held import HoldPlaced
from recycling.records.origins import OriginRecord, OriginRow, SpoolShare
from recycling.records.paging import Page
from recycling.records.recorded import OriginRecorded
from recycling.services.holds import hold_place
from recycling.services.origin_record import origin_record

SOURCE = text("source", "Name of the source.")
PROGRAMME = text("programme", "Name of the programme.")
KINDS = {"collections": "collection", "purchases": "purchase", "openings": "opening"}


class CollectionsApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @lists(OriginRow, SOURCE, PROGRAMME, TEXT, *PAGING)
    def get(self, actor: Actor, **asked: Any) -> Page[OriginRow]:
        """List collections, newest first."""
        return origins_page(actor, kind="collection", **asked)

    @records(CollectionBody, OriginRecorded, renamed={"/happened_at": "/collected_at"})
    def post(self, actor: Actor, body: CollectionBody) -> OriginRecorded:
        """Record a collection; each bag becomes a lot."""
        entry = OriginEntry(
            kind="collection",
            happened_at=body.collected_at,
            bags=body.bags,
            source=body.source,
            programme=body.programme,
            consent=body.consent,
            note=body.note,
        )
        return origin_record(actor, entry)


class PurchasesApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @lists(OriginRow, TEXT, *PAGING)
    def get(self, actor: Actor, **asked: Any) -> Page[OriginRow]:
        """List purchases, newest first."""
        return origins_page(actor, kind="purchase", **asked)

    @records(PurchaseBody, OriginRecorded, renamed={"/happened_at": "/purchased_at"})
    def post(self, actor: Actor, body: PurchaseBody) -> OriginRecorded:
        """Record a purchase of purge compound or pellets; each bag becomes a lot."""
        entry = OriginEntry(
            kind="purchase",
            happened_at=body.purchased_at,
            bags=body.bags,
            supplier=body.supplier,
            document=body.document,
            note=body.note,
        )
        return origin_record(actor, entry)


class OpeningsApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @lists(OriginRow, TEXT, *PAGING)
    def get(self, actor: Actor, **asked: Any) -> Page[OriginRow]:
        """List opening counts, newest first."""
        return origins_page(actor, kind="opening", **asked)

    @records(OpeningBody, OriginRecorded, renamed={"/happened_at": "/counted_at"})
    def post(self, actor: Actor, body: OpeningBody) -> OriginRecorded:
        """Record stock found when the book starts, or a machine's first heel."""
        entry = OriginEntry("opening", body.counted_at, body.bags, note=body.note)
        return origin_record(actor, entry)


class OriginApi(Door):
    needs = {"GET": "read"}

    @shows(OriginRecord, rows_of=lambda record: record.fate, tagged=True)
    def get(self, actor: Actor, code: str) -> OriginRecord:
        """Show a collection, purchase or opening count and what became of every gram of it."""
        return origin_page(actor, code)


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
