"""Lots: lists, one whole, its lineage, and what happens to it besides its mass."""

from __future__ import annotations

from typing import Any

from api.answers import LotNoted
from api.asking import FORM, PAGING, POLYMER, STAGE, TEXT, choice, flag, text
from api.bodies import HoldBody, LotEventBody, VerdictBody
from api.doors import Door, lists, records, shows
from recycling.queries.lots import lot_page, lots_page
from recycling.queries.origins import lot_origins
from recycling.queries.traces import trace
from recycling.records.actors import Actor
from recycling.records.entries import HoldEntry, LotEventEntry, VerdictEntry
from recycling.records.held import HoldPlaced
from recycling.records.lots import LotFilter, LotRecord, LotRow
from recycling.records.origins import LotOrigins
from recycling.records.paging import Page
from recycling.records.traces import Trace
from recycling.services.holds import hold_place
from recycling.services.lot_notes import lot_event, verdict_give

STATE = choice("state", "What is left of the lot.", ("on hand", "used up", "held"))
COLOUR = text("colour", "Colour of the lot.")
ORIGIN = text("origin", "Code of a collection, purchase or opening count that is in it.")
SPOOLS = flag("spools", "Spools only.")


class LotsApi(Door):
    needs = {"GET": "read"}

    @lists(LotRow, FORM, POLYMER, COLOUR, STATE, STAGE, ORIGIN, TEXT, SPOOLS, *PAGING)
    def get(self, actor: Actor, after: str = "", limit: int = 50, **asked: Any) -> Page[LotRow]:
        """List lots, newest first."""
        return lots_page(actor, LotFilter(**asked), after, limit)


class LotApi(Door):
    needs = {"GET": "read"}

    @shows(LotRecord, rows_of=lambda lot: lot.postings, tagged=True)
    def get(self, actor: Actor, code: str) -> LotRecord:
        """Show all there is to know of a lot; as CSV, its postings."""
        return lot_page(actor, code)


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


class LotVerdictsApi(Door):
    needs = {"POST": "verdict"}

    @records(VerdictBody, LotNoted, renamed={"/lot": ""}, guard=lot_page)
    def post(self, actor: Actor, body: VerdictBody, code: str) -> LotNoted:
        """Say of a spool that it printed well, or what was wrong with it."""
        return LotNoted(verdict_give(actor, VerdictEntry(code, body.good, body.defects, body.note)))
