"""Declare what products must meet, and release what failed as second choice."""

from __future__ import annotations

from django.db.models import Max
from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.keeping.lookups import check_moment, check_polymers, lot_named
from recycling.keeping.machines import check_needed, check_number
from recycling.keeping.texts import check_text, require_reason
from recycling.models import DeclaredCheck, Lot, SecondChoice
from recycling.queries.quality.states import state_of
from recycling.records.actors import Actor
from recycling.records.quality.declared import (
    CHECKED_FORMS,
    LARGEST,
    OVALITY,
    QUANTITIES,
    SHARE,
    DeclareEntry,
)
from recycling.records.quality.verdicts import DEFECTS
from shared.errors import Collected, Conflict
from shared.said import say

MOST_READINGS = 2000


@deed("manage")
def check_declare(actor: Actor, entry: DeclareEntry) -> int:
    """Declare a check, change one or switch it off: always a new edition; return its number.

    Raises
    ------
    Refused
        When quantity, rule, limits or polymer do not go together, or the source is missing.
    """
    found = Collected()
    known = QUANTITIES.get(entry.quantity)
    if known is None:
        text = say("One of {quantities}.", quantities=", ".join(QUANTITIES))
        found.add("quantity-unknown", text, "/quantity")
    if entry.form not in CHECKED_FORMS:
        text = say("One of {forms}.", forms=", ".join(CHECKED_FORMS))
        found.add("form-wrong", text, "/form")
    if entry.polymer:
        check_polymers(actor.workshop_id, {"/polymer": entry.polymer}, found)
    rule = entry.rule or (known.rules[0] if known else "")
    if known and rule not in known.rules:
        text = say("One of {rules}.", rules=", ".join(known.rules))
        found.add("rule-wrong", text, "/rule")
    if entry.defect and entry.defect not in DEFECTS:
        text = say("Defects are: {defects}.", defects=", ".join(DEFECTS))
        found.add("defect-unknown", text, "/defect")
    _check_limits(entry, found)
    since = entry.since or timezone.now()
    check_moment(since, "/since", found)
    check_needed(entry.source, "/source", "where it comes from", found)
    check_text(entry.source, "/source", found, 200)
    found.refuse()
    rows = DeclaredCheck.objects.filter(workshop_id=actor.workshop_id)
    shared = rule == SHARE
    row = DeclaredCheck.objects.create(
        workshop_id=actor.workshop_id,
        edition=(rows.aggregate(newest=Max("edition"))["newest"] or 0) + 1,
        form=entry.form,
        polymer=entry.polymer,
        quantity=entry.quantity,
        rule=rule,
        low=entry.low,
        high=entry.high,
        least=entry.least,
        share_percent=(entry.share_percent or 90.0) if shared else None,
        sure_percent=(entry.sure_percent or 80.0) if shared else None,
        needed=entry.needed,
        off=entry.off,
        defect=entry.defect,
        source=entry.source.strip(),
        since=since,
        written_at=timezone.now(),
        actor=actor.reference,
    )
    return row.edition


def _check_limits(entry: DeclareEntry, found: Collected) -> None:
    for name in ("low", "high"):
        value = getattr(entry, name)
        if value is not None:
            check_number(value, -5, 5, f"/{name}", "mm", found)
    if entry.low is not None and entry.high is not None and entry.high <= entry.low:
        found.add("window-wrong", "The upper limit must lie above the lower one.", "/high")
    no_limits = entry.low is None and entry.high is None
    if no_limits and entry.quantity in (OVALITY, LARGEST):
        found.add("number-missing", "Give a limit.", "/high")
    if not 1 <= entry.least <= MOST_READINGS:
        text = say("From {low:g} to {high:g}{unit}.", low=1, high=MOST_READINGS, unit="")
        found.add("number-out-of-bounds", text, "/least")
    for name in ("share_percent", "sure_percent"):
        value = getattr(entry, name)
        if value is not None:
            check_number(value, 1, 99.9, f"/{name}", "%", found)


@deed("record")
def second_choice_release(actor: Actor, code: str, reason: str) -> str:
    """Release a product that failed as second choice, with a reason; it stays failed.

    Raises
    ------
    Refused
        When it did not fail, was released before, or no reason is given.
    """
    reason = require_reason(reason)
    lot = Lot.objects.get(pk=lot_named(actor.workshop_id, code, "/lot").lot_id)
    state = state_of(lot)
    if state is None or state.state != "failed":
        raise Conflict.because(
            "not-failed", say("{lot} is not outside its limits.", lot=lot.code), "/lot"
        )
    if state.second_choice:
        raise Conflict.because(
            "second-choice-already", say("{lot} is second choice already.", lot=lot.code), "/lot"
        )
    SecondChoice.objects.create(
        lot=lot, reason=reason, released_at=timezone.now(), released_by=actor.reference
    )
    keep_change(actor, lot.code, "second choice", {}, {"state": state.state}, reason)
    return lot.code
