"""Keep a changeover's plan, and what it took in the end."""

from __future__ import annotations

from django.utils import timezone

from recycling.keeping.deed import deed
from recycling.keeping.machines import check_number
from recycling.keeping.texts import check_text
from recycling.keeping.weighing_rules import check_mass
from recycling.models import Changeover
from recycling.queries.process.changeover_plans import changeover_planned
from recycling.queries.process.changeovers import plan_data
from recycling.records.actors import Actor
from recycling.records.process.changeovers import ChangeoverEntry, UsedEntry
from shared.errors import Collected, Conflict, Refused, Unknown


@deed("record")
def changeover_plan(actor: Actor, entry: ChangeoverEntry) -> int:
    """Plan a changeover and keep the plan; return its id.

    Raises
    ------
    Refused
        When a figure is out of bounds, or there is no way from what is in the machine.
    """
    found = Collected()
    for name, low, high, unit in (
        ("start_c", 0, 500, "°C"),
        ("target_c", 0, 500, "°C"),
        ("residue_percent", 0.0001, 50, "%"),
    ):
        value = getattr(entry, name)
        if value is not None:
            check_number(value, low, high, f"/{name}", unit, found)
    found.refuse()
    plan = changeover_planned(actor, entry)
    if not plan.possible:
        raise Refused.because("plan-impossible", " ".join(plan.warnings[:-1]), "/after")
    row = Changeover.objects.create(
        workshop_id=actor.workshop_id,
        machine_id=plan.machine,
        before=plan.before,
        after=plan.after,
        residue=plan.residue,
        plan=plan_data(plan),
        planned_at=timezone.now(),
        planned_by=actor.reference,
    )
    return row.pk


@deed("record")
def changeover_used(actor: Actor, entry: UsedEntry) -> int:
    """Keep what a changeover took; return its machine's id.

    Raises
    ------
    Refused
        When nothing was given, a mass is none, or it was noted before.
    """
    rows = Changeover.objects.filter(workshop_id=actor.workshop_id)
    row = rows.filter(pk=entry.changeover).first()
    if row is None:
        raise Unknown.because("changeover-unknown", "There is no such plan in this workshop.")
    if row.used_at is not None:
        raise Conflict.because("used-already", "What this changeover took was noted before.")
    found = Collected()
    for name in ("purge_used_mg", "flush_used_mg"):
        if getattr(entry, name) is not None:
            check_mass(getattr(entry, name), f"/{name}", found)
    if entry.purge_used_mg is None and entry.flush_used_mg is None:
        found.add("nothing-given", "Say how much was used.", "/purge_used_mg")
    if entry.residue_percent is not None:
        check_number(entry.residue_percent, 0.0001, 99, "/residue_percent", "%", found)
    check_text(entry.seen, "/seen", found)
    found.refuse()
    row.purge_used_mg, row.flush_used_mg = entry.purge_used_mg, entry.flush_used_mg
    row.residue_seen = None if entry.residue_percent is None else entry.residue_percent / 100
    row.seen, row.used_at, row.used_by = entry.seen, timezone.now(), actor.reference
    row.save()
    return row.machine_id
