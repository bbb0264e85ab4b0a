"""How much of each lot a report is about: by what is kept of who is in it, exact in milligrams."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from django.db.models import Count, Q, Sum

from recycling.models import Composition, Origin
from recycling.reports.scope import Scope
from shared.apportion import stretch


@dataclass(frozen=True, slots=True)
class Share:
    """A stretch of a lot's mass, mg: what lies before it, its own length, and the whole.

    Every lot's mass is laid out as a line: first what is from no collection, then collections
    without programme (or source), then those of each in the order they were set up. So what is
    computed for one adds up with what is computed for all others, exactly.
    """

    before_mg: int
    own_mg: int
    whole_mg: int

    def of(self, mass_mg: int) -> int:
        """Give the part of a mass taken from the lot, mg."""
        return stretch(mass_mg, self.before_mg, self.own_mg, self.whole_mg)

    def before(self, mass_mg: int) -> int:
        """Give what of a mass lies before the part, mg; all of it where nobody is known."""
        if not self.whole_mg:
            return mass_mg
        return stretch(mass_mg, 0, self.before_mg, self.whole_mg)


NOTHING = Share(0, 0, 0)
Shares = dict[int, Share]


class Held(NamedTuple):
    """What is known of who is in a lot: traces and collected mass, mg, and how many origins."""

    traces_mg: int
    collected_mg: int
    origins: int
    collections: int


def lot_shares(scope: Scope) -> tuple[Shares, dict[int, Held]]:
    """Read the stretch of each lot that the report follows, and what filament holds.

    A lot that is missing has none. The parts of all lots are gone through once, for both.
    """
    own, above = _stretches(scope)
    collected = Q(origin__kind=Origin.COLLECTION)
    parts = (
        Composition.objects.filter(lot__workshop_id=scope.actor.workshop_id)
        .values_list("lot_id", "lot__made_mg", "lot__form", "lot__traces_mg")
        .order_by()
        .annotate(
            own=Sum("mass_mg", filter=own),
            above=Sum("mass_mg", filter=above),
            collected=Sum("mass_mg", filter=collected),
            origins=Count("pk"),
            collections=Count("pk", filter=collected),
        )
    )
    shares, held = {}, {}
    for lot_id, whole_mg, form, traces_mg, own_mg, above_mg, collected_mg, *numbers in parts:
        own_mg, above_mg = own_mg or 0, above_mg or 0
        shares[lot_id] = Share(whole_mg - own_mg - above_mg, own_mg, whole_mg)
        if form == "filament":
            held[lot_id] = Held(traces_mg, collected_mg or 0, *numbers)
    return shares, held


def _stretches(scope: Scope) -> tuple[Q, Q]:
    """Say which origins are on the stretch, and which come after it on the line."""
    collected = Q(origin__kind=Origin.COLLECTION)
    if not scope.column:
        return collected, Q(pk__in=[])
    column = f"origin__{scope.column}"
    if scope.key is None:
        return collected & Q(**{f"{column}__isnull": True}), collected & Q(
            **{f"{column}__isnull": False}
        )
    return collected & Q(**{column: scope.key}), collected & Q(**{f"{column}__gt": scope.key})
