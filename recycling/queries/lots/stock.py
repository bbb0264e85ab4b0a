"""Stock by form and polymer."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import Count, Q, Sum

from recycling.models import Lot, Run
from recycling.queries.lots.holds_in_force import holds_in_force
from recycling.records.actors import Actor
from recycling.records.lots.stock import ProcessNow, Stock, StockRow
from recycling.stages.declaration import FORMS


def stock(actor: Actor) -> Stock:
    """Add up what is on hand by form and polymer, on hold, and in process."""
    held = list(holds_in_force(actor.workshop_id))
    runs = Run.objects.filter(workshop_id=actor.workshop_id, state=Run.OPEN)
    inside = [process_of(run) for run in runs.select_related("account").order_by("number")]
    return stock_of(actor, held, inside)


def process_of(run: Run) -> ProcessNow:
    """Show what is inside an open run."""
    return ProcessNow(run.code, run.stage, run.account.commodity, run.account.balance_mg)


def stock_of(actor: Actor, held: list[int], inside: Sequence[ProcessNow]) -> Stock:
    """Add up what is on hand; `held` are ids of lots on hold, `inside` what is in process."""
    rows = (
        Lot.objects.filter(workshop_id=actor.workshop_id, account__balance_mg__gt=0)
        .values_list("form", "polymer")
        .order_by()
        .annotate(
            lots=Count("pk"),
            mass=Sum("account__balance_mg"),
            on_hold=Sum("account__balance_mg", filter=Q(pk__in=held)),
        )
    )
    lines = [
        StockRow(form, polymer, n, mass, on_hold or 0) for form, polymer, n, mass, on_hold in rows
    ]
    lines.sort(key=lambda row: (FORMS.index(row.form) if row.form in FORMS else 99, row.polymer))
    return Stock(
        tuple(lines),
        tuple(inside),
        sum(row.mass_mg for row in lines),
        sum(row.held_mg for row in lines),
        sum(one.mass_mg for one in inside),
    )
