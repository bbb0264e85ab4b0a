"""Reconciliations of periods: those asked for, one whole, and its flows."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from recycling.ledger.models import Book
from recycling.models import ReconciledFlow, Reconciliation
from recycling.queries.paging import checked_limit, cursor_for, number_of
from recycling.queries.people.names import Names
from recycling.records.actors import Actor
from recycling.records.balance.reconciliations import (
    Reconciled,
    ReconciledRow,
    SuspectFlow,
    TiedFlow,
)
from recycling.records.paging import Page
from shared.errors import Unknown
from shared.said import say

MOST_LISTED = 50
UNTESTED = {"flows": 0, "weighed": 0, "dof": 0, "ended": False, "suspects": ()}


def reconciliations(actor: Actor) -> list[Reconciled]:
    """List the latest reconciliations, newest first."""
    rows = Reconciliation.objects.filter(workshop_id=actor.workshop_id).order_by("-number")
    names, sequence = Names(actor.workshop_id), _sequence(actor)
    return [_shown(one, names, sequence) for one in rows[:MOST_LISTED]]


def reconciliation(actor: Actor, number: int) -> Reconciled:
    """Show one reconciliation; raises Unknown when there is none."""
    one = _one(actor, number)
    return _shown(one, Names(actor.workshop_id), _sequence(actor))


def _sequence(actor: Actor) -> int:
    return Book.objects.values_list("last_sequence", flat=True).get(pk=actor.workshop_id)


def _one(actor: Actor, number: int) -> Reconciliation:
    found = Reconciliation.objects.filter(workshop_id=actor.workshop_id, number=number).first()
    if found is None:
        raise Unknown.because(
            "reconciliation-unknown",
            say("There is no reconciliation {number} in this workshop.", number=number),
        )
    return found


def _shown(one: Reconciliation, names: Names, sequence: int) -> Reconciled:
    found: dict[str, Any] = {**UNTESTED, **one.found}
    return Reconciled(
        number=one.number,
        start=one.start,
        end=one.end,
        asked_at=one.asked_at,
        asked_by=names.of(one.asked_by),
        done_at=one.done_at,
        done_share=one.done_share,
        failure=one.failure,
        sequence=one.sequence,
        stale=one.done_at is not None and sequence != one.sequence,
        flows=found["flows"],
        weighed=found["weighed"],
        gamma=found.get("gamma"),
        limit=found.get("limit"),
        p_value=found.get("p_value"),
        dof=found["dof"],
        passes=found.get("passes"),
        ended=found["ended"],
        suspects=tuple(
            SuspectFlow(**{**each, "tied": tuple(TiedFlow(**flow) for flow in each["tied"])})
            for each in found["suspects"]
        ),
    )


def reconciled_flows(
    actor: Actor, number: int, suspects: bool = False, after: str = "", limit: int = 50
) -> Page[ReconciledRow]:
    """List the flows of a reconciliation in the order they happened."""
    rows = ReconciledFlow.objects.filter(reconciliation=_one(actor, number))
    if suspects:
        rows = rows.filter(suspect=True)
    place, limit = number_of(after), checked_limit(limit)
    if place is not None:
        rows = rows.filter(place__gt=place)
    found: Iterable[tuple[Any, ...]] = rows.order_by("place").values_list(
        "place",
        "kind",
        "run__code",
        "run__stage",
        "lot__code",
        "lot__form",
        "posting_id",
        "measured_mg",
        "u_mg",
        "reconciled_mg",
        "u_reconciled_mg",
        "z",
        "suspect",
    )[: limit + 1]
    listed = [
        ReconciledRow(place, kind, run or "", stage or "", lot or "", form or "", *figures)
        for place, kind, run, stage, lot, form, *figures in found
    ]
    more = cursor_for(listed[limit - 1].place) if len(listed) > limit else ""
    return Page(tuple(listed[:limit]), more)
