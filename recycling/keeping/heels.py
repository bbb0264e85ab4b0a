"""Machines and their heels: a run takes the old heel in and leaves a new one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from recycling.models import Lot, Machine, Run
from recycling.records.lots.mass_entries import DrawEntry
from recycling.records.runs.entries import RunEntry
from recycling.stages import STAGES
from recycling.stages.declaration import Stage
from shared.codes import read_code
from shared.errors import Collected, Problem
from shared.said import say


def check_machine(declared: Stage, machine: Machine | None, late: bool, found: Collected) -> None:
    """Note a problem when the machine does not fit the stage, or a heel has no machine.

    A sheet that comes late is of a time before the run that has the heel now.
    """
    if machine is not None and declared.machine and machine.kind != declared.machine:
        found.add(
            "machine-wrong",
            say(
                "{declared} needs a machine of the kind {machine}; {machine_2} is"
                " of the kind {kind}.",
                declared=declared.title,
                machine=declared.machine,
                machine_2=machine.name,
                kind=machine.kind,
            ),
            "/machine",
        )
    if machine is None and declared.keeps_heel:
        found.add(
            "machine-missing",
            say("Say which {machine} it was.", machine=declared.machine),
            "/machine",
        )
    if machine is not None and declared.keeps_heel and not late:
        _check_free(machine, found)


def _check_free(machine: Machine, found: Collected) -> None:
    """Note a problem while an open run has the machine's heel in it: heels go one after another."""
    busy = Run.objects.filter(machine=machine, state=Run.OPEN).values_list("code", flat=True)
    if busy:
        found.add(
            "machine-busy",
            say(
                "Run {busy} is open on {machine} and has its heel; close that run first.",
                busy=busy[0],
                machine=machine.name,
            ),
            "/machine",
        )


def check_heel_fits(machine: Machine, given: bool, pointer: str, found: Collected) -> None:
    """Note a problem when a machine keeps no heel, or has one; `given` for one in this entry."""
    if machine.kind not in {one.machine for one in STAGES if one.keeps_heel}:
        found.add(
            "heel-wrong", say("A {kind} keeps no heel.", kind=machine.kind), f"{pointer}/machine"
        )
    elif given or machine_heel(machine.pk):
        found.add(
            "heel-exists",
            say("{machine} has a heel already; count that lot instead.", machine=machine.name),
            f"{pointer}/machine",
        )


def take_heel_in(
    declared: Stage, machine: Machine | None, entry: RunEntry, then: Lot | None, late: bool
) -> RunEntry:
    """Add the machine's heel to what is drawn: a run takes the old heel in, whole.

    Where its sheet comes late it is the one that was in the machine `then`.
    """
    if not declared.keeps_heel or machine is None:
        return entry
    heel = then if late else machine_heel(machine.pk)
    named = {read_code(draw.lot) for draw in entry.inputs}
    if heel is None or heel.code in named:
        return entry
    return replace(entry, inputs=(DrawEntry(heel.code, all=True), *entry.inputs))


def machine_heel(machine_id: int) -> Lot | None:
    """Find the lot that is in a machine now."""
    return (
        Lot.objects.filter(machine_id=machine_id, form="heel", account__balance_mg__gt=0)
        .order_by("-number")
        .first()
    )


def pointing_past_heel(problems: Iterable[Problem]) -> list[Problem]:
    """Point at inputs as they were entered: the heel that was taken in stands before them."""
    pointed = []
    for problem in problems:
        place, _, part = problem.pointer.removeprefix("/inputs/").partition("/")
        if problem.pointer.startswith("/inputs/") and place.isdigit():
            entered = f"/inputs/{int(place) - 1}/{part}" if int(place) else "/machine"
            problem = replace(problem, pointer=entered.rstrip("/"))
        pointed.append(problem)
    return pointed
