"""Which checks a workshop declares, and which of them hold for a product."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from recycling.models import DeclaredCheck
from recycling.records.actors import Actor
from recycling.records.quality.declared import FIRST_CHECKS, QUANTITIES, DeclaredRow

Asked = tuple[str, str, str]
"""Form, polymer and quantity: a newer edition of the same takes its place."""


def declared_rows(workshop_id: int) -> list[DeclaredRow]:
    """List all that was ever declared, the first settings before it, in order of edition."""
    rows = DeclaredCheck.objects.filter(workshop_id=workshop_id).order_by("edition")
    return [*FIRST_CHECKS, *(_row(one) for one in rows if one.quantity in QUANTITIES)]


def checks_in_force(actor: Actor) -> list[DeclaredRow]:
    """List the newest edition of each check, also of those that are switched off."""
    newest: dict[Asked, DeclaredRow] = {}
    for row in declared_rows(actor.workshop_id):
        newest[row.form, row.polymer, row.quantity] = row
    order = list(QUANTITIES)
    return sorted(
        newest.values(), key=lambda one: (one.form, one.polymer, order.index(one.quantity))
    )


def holding(
    rows: Iterable[DeclaredRow], form: str, polymer: str, made_at: datetime
) -> tuple[list[DeclaredRow], int]:
    """Give the checks that hold for what was made at a moment, and the newest edition heeded.

    Those of its own polymer come before those of every polymer. What was switched off holds no
    more, but its edition counts.
    """
    own: dict[str, DeclaredRow] = {}
    every: dict[str, DeclaredRow] = {}
    edition = 0
    for row in rows:
        if row.form != form or row.polymer not in ("", polymer):
            continue
        if row.since is not None and row.since > made_at:
            continue
        (own if row.polymer else every)[row.quantity] = row
        edition = max(edition, row.edition)
    asked = every | own
    order = list(QUANTITIES)
    found = sorted(asked.values(), key=lambda one: order.index(one.quantity))
    return [one for one in found if not one.off], edition


def _row(one: DeclaredCheck) -> DeclaredRow:
    known = QUANTITIES[one.quantity]
    return DeclaredRow(
        one.edition,
        one.form,
        one.polymer,
        one.quantity,
        known.label,
        known.unit,
        one.rule,
        one.low,
        one.high,
        one.least,
        one.share_percent,
        one.sure_percent,
        one.needed,
        one.off,
        one.defect,
        one.source,
        one.since,
    )
