"""The plan from what is or was in a machine to the next plastic; nothing of it is kept here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, NoReturn

from django.utils import timezone

from recycling.calc.process.changeover import Plan, plan_changeover
from recycling.calc.process.washout import Barrel, mean_residue
from recycling.models import Machine
from recycling.queries.energy.machines import heel_of, machine_of
from recycling.queries.process.purges import COMPOUND, heel_window, needs_of
from recycling.queries.setup.practice import (
    HEEL_IS_HOLDUP,
    as_window,
    barrel_of,
    melting_points,
    pace_by,
    practice_rows,
    window_rows,
)
from recycling.records.actors import Actor
from recycling.records.energy.machines import HeelRow
from recycling.records.process.changeovers import ChangeoverEntry, ChangeoverPlanned
from recycling.records.process.plan_steps import NeedRow, StepRow
from recycling.records.setup.machines import BarrelRow
from recycling.records.setup.practice import WindowRow
from shared.errors import Refused
from shared.said import say

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
    rules, melting = practice_rows(actor.workshop_id), melting_points(actor.workshop_id)
    said = {
        "start_c": entry.start_c if entry.start_c is not None else _middle(before),
        "target_c": entry.target_c if entry.target_c is not None else _middle(after),
        "residue": _either(entry.residue_percent, rules["residue_percent"].value) / 100,
    }
    compounds = [as_window(one, melting) for one in windows.values() if one.kind == COMPOUND]
    modelled = Barrel(barrel.holdup_g, barrel.plug_share, barrel.tanks)
    old, new = as_window(before, melting), as_window(after, melting)
    try:
        plan = plan_changeover(old, new, compounds, modelled, pace_by(rules), **said)
    except ValueError as error:
        raise Refused.because(
            "plan-impossible", say("{capitalize}.", capitalize=str(error).capitalize())
        ) from error
    used = [windows[name] for name in (before.material, *plan.bridges, entry.after)]
    planned = _planned(machine, heel, barrel, modelled, plan, entry.after, said, used)
    needs = needs_of(actor.workshop_id, planned.steps, windows)
    return replace(planned, at=entry.at, needs=needs, warnings=(*_short(needs), *plan.warnings))


def _short(needs: tuple[NeedRow, ...]) -> Iterator[str]:
    """Say of what there is too little in stock."""
    for one in needs:
        if not one.enough:
            yield say(
                "{material}: {needed:.0f} g needed, {stock:.0f} g in stock. Get more before you"
                " start.",
                material=one.material,
                needed=one.mass_g,
                stock=one.stock_g,
            )


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
            "There is no temperature range of “{material}”. Enter it under Limits and recipes, from"
            " its data sheet.",
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
    windows: Sequence[WindowRow],
) -> ChangeoverPlanned:
    flush_g = plan.mass_g(after)
    return ChangeoverPlanned(
        machine=machine.pk,
        machine_name=machine.name,
        heel=heel.lot,
        before=heel.polymer,
        after=after,
        possible=plan.possible,
        purge=", ".join(plan.bridges),
        steps=tuple(
            StepRow(
                one.feed,
                one.sentence,
                one.temperatures_c,
                one.mass_g,
                one.minutes,
                one.margin_k,
            )
            for one in plan.steps
        ),
        purge_g=plan.mass_g(*plan.bridges),
        flush_g=flush_g,
        next_residue=mean_residue(flush_g, NEXT_G, modelled) if plan.possible else 0.0,
        warnings=plan.warnings,
        minutes=plan.minutes,
        margin_k=plan.margin_k,
        holdup_g=barrel.holdup_g,
        holdup_source=barrel.source,
        windows_source="; ".join(
            f"{one.material} {one.low_c:g} to {one.high_c:g} °C, {one.source}" for one in windows
        ),
        **said,
    )
