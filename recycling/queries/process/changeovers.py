"""Changeovers of a machine: what is in it, the plans that were kept, and what they took."""

from __future__ import annotations

from dataclasses import asdict, fields
from datetime import datetime
from typing import Any

from recycling.calc.process.temperature_ranges import window_warnings
from recycling.calc.process.washout import refit_holdup
from recycling.models import Changeover, Lot, RunSetting
from recycling.queries.energy.machines import heel_of, machine_of
from recycling.queries.people.names import Names
from recycling.queries.process.purges import COMPOUND, heel_window, missing_for
from recycling.queries.setup.practice import as_window, barrel_of, window_rows
from recycling.records.actors import Actor
from recycling.records.process.changeovers import (
    ChangeoverDesk,
    ChangeoverPlanned,
    ChangeoverRow,
    HoldupRefit,
)
from recycling.records.process.plan_steps import NeedRow, StepRow
from recycling.records.setup.machines import BarrelRow
from shared.errors import Unknown
from shared.said import again, kept

LATEST = 50


def planned_from(data: dict[str, Any]) -> ChangeoverPlanned:
    """Read a plan back from what was kept of it; what older ones held beside is left out."""
    steps = tuple(
        StepRow(
            **{
                **one,
                "sentence": again(one["sentence"]),
                "temperatures_c": tuple(one["temperatures_c"]),
            }
        )
        for one in data["steps"]
    )
    more = {
        "steps": steps,
        "warnings": tuple(again(one) for one in data["warnings"]),
        "needs": tuple(NeedRow(**one) for one in data.get("needs", ())),
        "at": datetime.fromisoformat(data["at"]) if data.get("at") else None,
    }
    names = {field.name for field in fields(ChangeoverPlanned)}
    return ChangeoverPlanned(**{name: data[name] for name in names & data.keys()} | more)


def plan_data(plan: ChangeoverPlanned) -> dict[str, Any]:
    """Give a plan as plain data, to be kept."""
    data = asdict(plan)
    for step, one in zip(data["steps"], plan.steps, strict=True):
        step["sentence"] = kept(one.sentence)
    data["warnings"] = [kept(one) for one in plan.warnings]
    return data | {"at": plan.at.isoformat() if plan.at else None}


def changeover_desk(actor: Actor, machine_id: int) -> ChangeoverDesk:
    """Show what is in a machine, earlier changeovers, and what they say of its hold-up.

    Raises
    ------
    Unknown
        When there is no such machine.
    """
    machine = machine_of(actor, machine_id)
    heel, windows = heel_of(machine.pk), window_rows(actor.workshop_id)
    kept = tuple(_rows(actor, machine=machine))
    last_c = last_temperature(machine.pk)
    warnings: tuple[str, ...] = ()
    window = heel_window(actor.workshop_id, heel, windows) if heel else None
    if window and last_c is not None:
        warnings = window_warnings(as_window(window), last_c)
    barrel = barrel_of(machine.pk)
    missing = missing_for(actor.workshop_id, machine.name, barrel, heel, windows)
    return ChangeoverDesk(
        machine=machine.pk,
        machine_name=machine.name,
        heel=heel.lot if heel else "",
        before=heel.polymer if heel else "",
        heel_mg=heel.mass_mg if heel else 0,
        next_polymers=tuple(
            sorted(one.material for one in windows.values() if one.kind != COMPOUND)
        ),
        kept=kept,
        refit=refit_of(machine.pk, barrel),
        last_c=last_c,
        warnings=warnings,
        missing=missing,
        held_before=bool(heel) or Lot.objects.filter(machine_id=machine.pk, form="heel").exists(),
    )


def last_temperature(machine_id: int) -> float | None:
    """Give the highest of the zones as they were set last in a machine; None where none was."""
    rows = RunSetting.objects.filter(run__machine_id=machine_id, key__startswith="zone_")
    latest = rows.exclude(run__state="void").order_by("-run__started_at").values("run_id")[:1]
    zones = {}
    for key, value in (
        rows.filter(run_id__in=latest).order_by("happened_at", "pk").values_list("key", "value")
    ):
        zones[key] = float(value.replace(",", "."))
    return max(zones.values(), default=None)


def changeover_of(actor: Actor, changeover_id: int) -> ChangeoverRow:
    """Show a plan that was kept.

    Raises
    ------
    Unknown
        When there is no such plan.
    """
    rows = _rows(actor, pk=changeover_id)
    if not rows:
        raise Unknown.because("changeover-unknown", "There is no such plan in this workshop.")
    return rows[0]


def _rows(actor: Actor, **wanted: Any) -> list[ChangeoverRow]:
    names = Names(actor.workshop_id)
    rows = Changeover.objects.filter(workshop_id=actor.workshop_id, **wanted)
    return [
        ChangeoverRow(
            id=row.pk,
            machine=row.machine_id,
            machine_name=row.machine.name,
            before=row.before,
            after=row.after,
            purge=row.plan["purge"],
            seen=row.seen,
            by=names.of(row.planned_by),
            purge_g=row.plan["purge_g"],
            flush_g=row.plan["flush_g"],
            residue=row.residue,
            purge_used_mg=row.purge_used_mg,
            flush_used_mg=row.flush_used_mg,
            residue_seen=row.residue_seen,
            planned_at=row.planned_at,
            used_at=row.used_at,
            plan=planned_from(row.plan),
        )
        for row in rows.select_related("machine").order_by("-pk")[:LATEST]
    ]


def refit_of(machine_id: int, barrel: BarrelRow | None) -> HoldupRefit | None:
    """Refit a machine's hold-up from every washing that was really run; None without one."""
    rows = Changeover.objects.filter(machine_id=machine_id, used_at__isnull=False)
    uses = []
    for row in rows:
        residue = row.residue_seen or row.residue
        for used_mg in (row.purge_used_mg, row.flush_used_mg):
            if used_mg:
                uses.append((used_mg / 1000, residue))
    if not uses:
        return None
    flow = (barrel.plug_share, barrel.tanks) if barrel else (0.0, 1)
    fit = refit_holdup(uses, *flow)
    return HoldupRefit(fit.holdup_g, fit.u_holdup_g, fit.uses)
