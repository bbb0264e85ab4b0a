"""What someone who comes in wants to see."""

from __future__ import annotations

from typing import TYPE_CHECKING

from recycling.models import Lot, Origin, Run
from recycling.queries.lots.holds_in_force import holds_in_force
from recycling.queries.lots.lots import hold_row, rows_of
from recycling.queries.lots.stock import process_of, stock_of
from recycling.queries.planning.bench import waits_of
from recycling.queries.quality.verdicts import waiting_count
from recycling.records.actors import Actor
from recycling.records.lots.lots import HoldRow
from recycling.records.planning import OpenRunRow, Today

if TYPE_CHECKING:
    from recycling.queries.lots.holds_in_force import NamedHold

MOST_OPEN = 50


def today(actor: Actor) -> Today:
    """Show what goes on, what waits, what is held, and what is due."""
    held = holds_in_force(actor.workshop_id)
    runs = list(
        Run.objects.filter(workshop_id=actor.workshop_id, state=Run.OPEN)
        .select_related("machine", "account")
        .order_by("started_at", "number")[:MOST_OPEN]
    )
    heels = Lot.objects.filter(
        workshop_id=actor.workshop_id, form="heel", account__balance_mg__gt=0
    ).order_by("number")
    due, dried = waits_of(actor.workshop_id, runs)
    stock = stock_of(actor, list(held), [process_of(run) for run in runs])
    begun = runs or stock.rows or Origin.objects.filter(workshop_id=actor.workshop_id).exists()
    return Today(
        open_runs=tuple(
            OpenRunRow(
                run.code,
                run.stage,
                run.machine.name if run.machine else "",
                run.polymer,
                run.started_at,
                run.account.balance_mg,
                due.get(run.code),
            )
            for run in runs
        ),
        holds=tuple(_holds(held)),
        heels=tuple(rows_of(heels, held)),
        dried=tuple(dried),
        stock=stock,
        is_new=not begun,
        verdicts_waiting=waiting_count(actor),
    )


def _holds(held: dict[int, list[NamedHold]]) -> list[HoldRow]:
    each = {hold.pk: hold for holds in held.values() for hold in holds}
    return [hold_row(each[key]) for key in sorted(each, reverse=True)]
