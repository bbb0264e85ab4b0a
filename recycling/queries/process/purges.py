"""Purge compounds: which one a lot or heel is, how much is in stock, and what a plan lacks.

The purge before a barrel is shut down: what is proposed, and what was fed to it last.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from recycling.ledger.models import Posting
from recycling.models import Lot, LotEvent, Run
from recycling.queries.lots.holds_in_force import holds_in_force
from recycling.queries.runs.runs import run_of
from recycling.queries.setup.practice import practice_rows, window_rows
from recycling.records.actors import Actor
from recycling.records.energy.machines import HeelRow
from recycling.records.process.changeovers import ShutdownAdvice
from recycling.records.process.plan_steps import MissingRow, NeedRow, StepRow
from recycling.records.setup.machines import BarrelRow
from recycling.records.setup.practice import WindowRow
from recycling.stages import KEEPING_HEELS
from shared.said import say

COMPOUND = "purge compound"
PURGE = "purge"
"""Symbol under which a purge compound stands in the book that nobody has named."""
FED = ("dried flake", "pellets")
_TOLD = ("note", "origin__supplier", "origin__document", "origin__note")


def heel_window(
    workshop_id: int, heel: HeelRow, windows: Mapping[str, WindowRow]
) -> WindowRow | None:
    """Give the window of a heel: of its polymer, or of the purge compound that it is."""
    if heel.polymer in windows or heel.polymer != PURGE:
        return windows.get(heel.polymer)
    bought = Lot.objects.filter(
        workshop_id=workshop_id,
        form=COMPOUND,
        draws__run__outputs__code=heel.lot,
        draws__mass_mg__gt=0,
    )
    rows = bought.values_list(*_TOLD, "events__note").distinct()
    told = "\n".join(text or "" for row in rows for text in row)
    return _named(told, windows)


def _named(told: str, windows: Mapping[str, WindowRow]) -> WindowRow | None:
    """Choose the one compound that a text names, else the only one there is."""
    compounds = [one for one in windows.values() if one.kind == COMPOUND]
    named = [one for one in compounds if one.material.casefold() in told.casefold()]
    fitting = named or compounds
    return fitting[0] if len(fitting) == 1 else None


def which_compound(polymer: str, told: str, windows: Mapping[str, WindowRow]) -> str:
    """Name the compound that a lot is: by its polymer, else by what was written; else none."""
    if polymer in windows:
        return polymer
    found = _named(told, windows) if polymer == PURGE else None
    return found.material if found else ""


@dataclass(frozen=True)
class _Bought:
    """A lot of purge compound on hand: the compound it is, "" if nobody said; its mass in g."""

    lot_id: int
    code: str
    compound: str
    mass_g: float


def _in_stock(workshop_id: int, windows: Mapping[str, WindowRow]) -> list[_Bought]:
    """List purge compound on hand; what it is follows from its polymer or what was written."""
    lots = Lot.objects.filter(workshop_id=workshop_id, form=COMPOUND, account__balance_mg__gt=0)
    found = []
    columns = ("pk", "code", "polymer", "account__balance_mg", *_TOLD)
    for pk, code, polymer, mass_mg, *told in lots.order_by("number").values_list(*columns):
        text = "\n".join(one or "" for one in told)
        one = _Bought(pk, code, which_compound(polymer, text, windows), mass_mg / 1000)
        if not one.compound:
            said = LotEvent.objects.filter(lot_id=pk).values_list("note", flat=True)
            text = "\n".join([text, *said])
            one = replace(one, compound=which_compound(polymer, text, windows))
        found.append(one)
    return found


def needs_of(
    workshop_id: int, steps: Sequence[StepRow], windows: Mapping[str, WindowRow]
) -> tuple[NeedRow, ...]:
    """Hold what a plan feeds against what is ready for the melt in stock, in order of feeding."""
    needed: dict[str, float] = {}
    for step in steps:
        needed[step.feed] = needed.get(step.feed, 0.0) + step.mass_g
    held, stock = holds_in_force(workshop_id), defaultdict[str, float](float)
    for one in _in_stock(workshop_id, windows):
        if one.lot_id not in held:
            stock[one.compound] += one.mass_g
    rows = Lot.objects.filter(
        workshop_id=workshop_id, form__in=FED, polymer__in=needed, account__balance_mg__gt=0
    )
    for pk, polymer, mass_mg in rows.values_list("pk", "polymer", "account__balance_mg"):
        if pk not in held:
            stock[polymer] += mass_mg / 1000
    return tuple(NeedRow(name, mass_g, stock[name]) for name, mass_g in needed.items())


def missing_for(
    workshop_id: int,
    machine: str,
    barrel: BarrelRow | None,
    heel: HeelRow | None,
    windows: Mapping[str, WindowRow],
) -> tuple[MissingRow, ...]:
    """Say what plans of a machine lack: its hold-up, a temperature range, what a compound is."""
    found = []
    if heel and barrel is None:
        text = say("Nobody entered how much {machine} holds.", machine=machine)
        found.append(MissingRow("hold-up", "", text))
    if heel and heel_window(workshop_id, heel, windows) is None:
        text = say("{material} has no temperature range.", material=heel.polymer)
        found.append(MissingRow("window", heel.polymer, text))
    if not any(one.kind == COMPOUND for one in windows.values()):
        text = say("No purge compound has a temperature range, so no plan can use one.")
        found.append(MissingRow("compound", "", text))
        return tuple(found)
    for lot in _in_stock(workshop_id, windows):
        if not lot.compound:
            text = say("Nobody said which purge compound {lot} is. No plan uses it.", lot=lot.code)
            found.append(MissingRow("which compound", lot.code, text))
    return tuple(found)


def unnamed_compounds(workshop_id: int, lots: Iterable[Lot]) -> tuple[str, ...]:
    """Ask which purge compound it is where one came in that no plan can use; else ask nothing."""
    bought = {lot.code for lot in lots if lot.form == COMPOUND}
    if not bought:
        return ()
    return tuple(
        say(
            "{lot}: which purge compound is it? Enter its temperature range, then add a note with"
            " its name. No plan uses it before.",
            lot=one.code,
        )
        for one in _in_stock(workshop_id, window_rows(workshop_id))
        if one.code in bought and not one.compound
    )


def shutdown_advice(actor: Actor, code: str) -> ShutdownAdvice | None:
    """Propose the purge before a run that leaves a heel is closed; None for other runs.

    Raises
    ------
    Unknown
        When there is no such run.
    """
    run = run_of(actor, code)
    if run.stage not in KEEPING_HEELS or run.machine_id is None:
        return None
    rule = practice_rows(actor.workshop_id)["shutdown_purge_g"]
    return ShutdownAdvice(
        run.machine_id, run.polymer, rule.source, rule.value, _purged_last_mg(run)
    )


def _purged_last_mg(run: Run) -> int:
    """Sum the purge compound that was fed after all else, in mg: what was fed before is gone."""
    drawn = Posting.objects.filter(entry__process=run.account_id, account__lot__draws__run=run)
    fed: dict[tuple[bool, datetime], int] = defaultdict(int)
    for form, at, mass_mg in drawn.values_list(
        "account__lot__form", "entry__happened_at", "mass_mg"
    ):
        fed[form == COMPOUND, at] -= mass_mg
    other = [at for (purges, at), mass_mg in fed.items() if not purges and mass_mg]
    last = max(other, default=run.started_at)
    return sum(mg for (purges, at), mg in fed.items() if purges and (not other or at > last))
