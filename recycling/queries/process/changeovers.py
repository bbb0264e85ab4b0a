"""Changeovers: the plan from what is in a machine to the next polymer, and earlier ones."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import datetime
from typing import Any, NoReturn

from django.utils import timezone

from recycling.calc.process.changeover import Plan, plan_changeover, window_warnings
from recycling.calc.process.washout import Barrel, mean_residue, refit_holdup
from recycling.models import Changeover, Lot, Machine, RunSetting
from recycling.queries.energy.machines import heel_of, machine_of
from recycling.queries.people.names import Names
from recycling.queries.process.purges import COMPOUND, heel_window
from recycling.queries.setup.practice import (
    HEEL_IS_HOLDUP,
    as_window,
    barrel_of,
    practice_rows,
    window_rows,
)
from recycling.records.actors import Actor
from recycling.records.energy.machines import HeelRow
from recycling.records.process.changeovers import (
    ChangeoverDesk,
    ChangeoverEntry,
    ChangeoverPlanned,
    ChangeoverRow,
    HoldupRefit,
    StepRow,
)
from recycling.records.setup.machines import BarrelRow
from recycling.records.setup.practice import WindowRow
from shared.errors import Refused, Unknown
from shared.said import say

LATEST = 50
NEXT_G = 1000.0


def changeover_planned(actor: Actor, entry: ChangeoverEntry) -> ChangeoverPlanned:
    """Plan the way from what is or was in a machine to the next polymer; nothing is kept.

    Raises
    ------
    Refused
        When the machine is or was empty or holds that polymer already, a window or hold-up is
        missing, or the moment is still to come.
    """
    machine = machine_of(actor, entry.machine)
    if entry.at is not None and entry.at > timezone.now():
        text = "What will be in the machine then is not known."
        raise Refused.because("time-in-future", text, "/at")
    heel, barrel = heel_of(machine.pk, entry.at), barrel_of(machine.pk)
    if heel is None:
        raise _empty(machine, entry)
    if entry.at and heel.mass_mg and (barrel is None or barrel.source == HEEL_IS_HOLDUP):
        barrel = BarrelRow(heel.mass_mg / 1000, 0.0, 1, HEEL_IS_HOLDUP)
    if barrel is None:
        raise Refused.because(
            "holdup-missing", say("Enter the hold-up of {machine} first.", machine=machine.name)
        )
    if heel.polymer == entry.after:
        raise Refused.because(
            "polymer-same",
            _held(machine, heel, entry),
            "/after",
        )
    windows = window_rows(actor.workshop_id)
    before = heel_window(actor.workshop_id, heel, windows) or _missing(heel.polymer, "")
    after = windows.get(entry.after) or _missing(entry.after, "/after")
    rules = practice_rows(actor.workshop_id)
    said = {
        "start_c": entry.start_c if entry.start_c is not None else _middle(before),
        "target_c": entry.target_c if entry.target_c is not None else _middle(after),
        "residue": _either(entry.residue_percent, rules["residue_percent"].value) / 100,
        "step_c": _either(entry.step_c, rules["step_c"].value),
    }
    compounds = [as_window(one) for one in windows.values() if one.kind == COMPOUND]
    modelled = Barrel(barrel.holdup_g, barrel.plug_share, barrel.tanks)
    try:
        plan = plan_changeover(as_window(before), as_window(after), compounds, modelled, **said)
    except ValueError as error:
        raise Refused.because(
            "plan-impossible", say("{capitalize}.", capitalize=str(error).capitalize())
        ) from error
    planned = _planned(machine, heel, barrel, modelled, plan, entry.after, said, (before, after))
    return replace(planned, at=entry.at)


def _empty(machine: Machine, entry: ChangeoverEntry) -> Refused:
    if entry.at is None:
        text = say(
            "{machine} is empty: there is nothing to change over from.", machine=machine.name
        )
        return Refused.because("barrel-empty", text)
    text = say("{machine} was empty then: there was nothing to change from.", machine=machine.name)
    return Refused.because("barrel-empty", text, "/at")


def _held(machine: Machine, heel: HeelRow, entry: ChangeoverEntry) -> str:
    if entry.at is None:
        return say("{machine} holds {polymer} already.", machine=machine.name, polymer=heel.polymer)
    return say("{machine} held {polymer} then.", machine=machine.name, polymer=heel.polymer)


def _missing(material: str, pointer: str) -> NoReturn:
    raise Refused.because(
        "window-missing",
        say(
            "There is no processing window of “{material}”. Enter it from its data sheet.",
            material=material,
        ),
        pointer,
    )


def _middle(window: WindowRow) -> float:
    return round((window.low_c + window.high_c) / 2)


def _either(value: float | None, usual: float) -> float:
    return usual if value is None else value


def _planned(
    machine: Machine,
    heel: HeelRow,
    barrel: BarrelRow,
    modelled: Barrel,
    plan: Plan,
    after: str,
    said: dict[str, Any],
    windows: tuple[WindowRow, WindowRow],
) -> ChangeoverPlanned:
    return ChangeoverPlanned(
        machine=machine.pk,
        machine_name=machine.name,
        heel=heel.lot,
        before=heel.polymer,
        after=after,
        possible=plan.possible,
        purge=plan.purge,
        steps=tuple(
            StepRow(one.feed, one.sentence, one.temperatures_c, one.mass_g) for one in plan.steps
        ),
        purge_g=plan.purge_g,
        flush_g=plan.flush_g,
        next_residue=mean_residue(plan.flush_g, NEXT_G, modelled) if plan.possible else 0.0,
        warnings=plan.warnings,
        holdup_g=barrel.holdup_g,
        holdup_source=barrel.source,
        windows_source="; ".join(
            f"{one.material} {one.low_c:g} to {one.high_c:g} °C, {one.source}" for one in windows
        ),
        **said,
    )


def planned_from(data: dict[str, Any]) -> ChangeoverPlanned:
    """Read a plan back from what was kept of it."""
    steps = tuple(
        StepRow(**{**one, "temperatures_c": tuple(one["temperatures_c"])}) for one in data["steps"]
    )
    at = datetime.fromisoformat(data["at"]) if data.get("at") else None
    more = {"steps": steps, "warnings": tuple(data["warnings"]), "at": at}
    return ChangeoverPlanned(**{**data, **more})


def plan_data(plan: ChangeoverPlanned) -> dict[str, Any]:
    """Give a plan as plain data, to be kept."""
    return {**asdict(plan), "at": plan.at.isoformat() if plan.at else None}


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
        refit=refit_of(machine.pk),
        last_c=last_c,
        warnings=warnings,
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


def refit_of(machine_id: int) -> HoldupRefit | None:
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
    barrel = barrel_of(machine_id)
    flow = (barrel.plug_share, barrel.tanks) if barrel else (0.0, 1)
    fit = refit_holdup(uses, *flow)
    return HoldupRefit(fit.holdup_g, fit.u_holdup_g, fit.uses)
