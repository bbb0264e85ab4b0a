"""Holds in force, and their release."""

from __future__ import annotations

from api.asking import flag
from api.bodies import ReasonBody
from api.doors import Door, lists, records
from recycling.queries.holds import holds
from recycling.records.actors import Actor
from recycling.records.held import HoldPlaced
from recycling.records.lots import HoldRow
from recycling.services.holds import hold_release

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
