"""An entry of a run made ready: all that it names is found, all that is wrong is said."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from recycling.keeping.counted_pieces import with_masses_counted
from recycling.keeping.draw_checks import refuse_held
from recycling.keeping.heel_chain import Late, Taken, check_between, run_after
from recycling.keeping.heels import check_machine, pointing_past_heel, take_heel_in
from recycling.keeping.lookups import (
    NO_MEANS,
    LotFacts,
    Means,
    check_polymers,
    check_scales,
    check_typed_moment,
    lots_by_code,
    machine_named,
    members_named,
)
from recycling.keeping.noted import check_log, check_required
from recycling.keeping.output_rules import (
    WentIn,
    check_heel,
    check_losses,
    check_output,
    check_stated,
)
from recycling.keeping.rules import (
    check_draws,
    check_feeds,
    check_shape,
)
from recycling.keeping.spools import going_on_as_spool
from recycling.models import Machine, Member
from recycling.records.actors import Actor
from recycling.records.lots.mass_entries import DrawEntry
from recycling.records.runs.entries import RunEntry
from recycling.stages import STAGES, stage
from recycling.stages.declaration import MIXED, PRODUCT, Stage
from shared.errors import Collected, Refused
from shared.said import say


@dataclass(frozen=True)
class Prepared:
    """An entry that may be recorded, with all it names found.

    `late` is the run that came next in its machine, where the sheet comes late.
    """

    stage: Stage
    entry: RunEntry
    polymer: str
    machine: Machine | None
    operators: tuple[Member, ...]
    lots: Mapping[str, LotFacts]
    within: tuple[bool | None, ...]
    means: Means = NO_MEANS
    late: Late | None = None

    @property
    def drawn(self) -> list[tuple[LotFacts, int]]:
        """Each lot drawn and its mass in mg."""
        return [(self.lots[d.lot], drawn_mg(d, self.lots[d.lot])) for d in self.entry.inputs]


def drawn_mg(draw: DrawEntry, lot: LotFacts) -> int:
    """Return the mass of a draw in mg: as given, or all that is on hand."""
    return lot.on_hand_mg if draw.mass_mg is None else draw.mass_mg


def stage_named(key: str) -> Stage:
    """Find a stage, or say which there are."""
    declared = stage(key)
    if declared is None:
        raise Refused.because(
            "stage-unknown",
            say(
                "There is no stage “{key}”; there are {value}.",
                key=key,
                value=", ".join(s.key for s in STAGES),
            ),
            "/stage",
        )
    return declared


def prepare(actor: Actor, entry: RunEntry) -> Prepared:
    """Find all that an entry names and check it; refuses with every problem at once."""
    declared, found = stage_named(entry.stage), Collected()
    check_typed_moment(entry.started_at, "/started_at", found)
    if entry.ended_at is not None:
        check_typed_moment(entry.ended_at, "/ended_at", found)
    found.refuse()
    outputs = with_masses_counted(actor.workshop_id, entry.outputs, "/outputs", found)
    entry = replace(entry, outputs=outputs)
    check_shape(declared, entry, found)
    machine = machine_named(actor.workshop_id, entry.machine, "/machine", found)
    later = run_after(declared, machine, entry)
    check_machine(declared, machine, later is not None, found)
    late = check_between(entry, later, found) if later else None
    taken = late.taken if late else None
    then = taken.heel if taken else None
    given, entry = entry, take_heel_in(declared, machine, entry, then, later is not None)
    try:
        prepared = _prepared(actor, declared, entry, machine, taken, found)
        return replace(prepared, late=late)
    except Refused as refused:
        if entry is given:
            raise
        raise type(refused)(*pointing_past_heel(refused.problems)) from refused


def _prepared(
    actor: Actor,
    declared: Stage,
    entry: RunEntry,
    machine: Machine | None,
    taken: Taken | None,
    found: Collected,
) -> Prepared:
    names = [draw.lot for draw in entry.inputs] + [count.lot for count in entry.counts]
    lots = lots_by_code(actor.workshop_id, names + [feed.lot for feed in entry.feeds])
    if taken is not None and taken.heel.code in lots:
        there = replace(lots[taken.heel.code], on_hand_mg=taken.mass_mg)
        lots[taken.heel.code] = there
    check_draws(declared, entry.inputs, lots, found)
    drawn_ids = [lots[draw.lot].lot_id for draw in entry.inputs if draw.lot in lots]
    entry = replace(entry, outputs=going_on_as_spool(declared, entry.outputs, drawn_ids))
    polymer = entry.polymer or run_polymer(declared, entry, lots)
    means = check_content(actor.workshop_id, declared, entry, polymer, lots, found)
    operators = members_named(actor.workshop_id, entry.operators, "/operators", found)
    within = check_log(declared, entry.checks, entry.settings, found)
    if entry.ended_at is not None:
        check_required(declared, {check.key for check in entry.checks}, found)
    check_times(entry, found)
    found.refuse()
    drawn = [lots[draw.lot] for draw in entry.inputs]
    refuse_held(actor.workshop_id, {lot.lot_id: lot.code for lot in drawn})
    people = tuple(operators)
    return Prepared(declared, entry, polymer, machine, people, lots, tuple(within), means)


def run_polymer(declared: Stage, entry: RunEntry, lots: Mapping[str, LotFacts]) -> str:
    """Read a run's polymer from what it works on; where only purge went in, from its product.

    It is mixed where it works on several. A run that goes on has none while only purge and heel
    are in it.
    """
    worked = polymers_worked(
        declared, (lots[draw.lot] for draw in entry.inputs if draw.lot in lots)
    )
    if len(worked) > 1:
        return MIXED
    if worked and MIXED not in worked:
        return worked[0]
    if declared.main_polymer == PRODUCT:
        for output in entry.outputs:
            given = declared.output(output.form)
            if output.polymer and given is not None and given.role == PRODUCT:
                return output.polymer
    drawn = [
        (not declared.fed_besides(lot.form), drawn_mg(draw, lot), lot.polymer)
        for draw in entry.inputs
        if (lot := lots.get(draw.lot)) is not None
    ]
    if drawn:
        worked_on, _, polymer = max(drawn, key=lambda one: one[:2])
        return polymer if worked_on or entry.ended_at is not None else ""
    return next((lot.polymer for lot in lots.values()), "")


def polymers_worked(declared: Stage, drawn: Iterable[LotFacts]) -> list[str]:
    """Name the polymers that a run works on, purge and heel left out, in the order drawn."""
    return list(dict.fromkeys(lot.polymer for lot in drawn if not declared.fed_besides(lot.form)))


def check_content(
    workshop_id: int,
    declared: Stage,
    entry: RunEntry,
    polymer: str,
    lots: Mapping[str, LotFacts],
    found: Collected,
) -> Means:
    """Note problems of polymers, outputs, losses and heel; return what weighings name."""
    drawn = [
        (f"/inputs/{place}/lot", lots[draw.lot])
        for place, draw in enumerate(entry.inputs)
        if draw.lot in lots
    ]
    worked = polymers_worked(declared, (lot for _, lot in drawn)) if declared.works else []
    check_stated(entry.polymer, worked, found)
    wanted = {"/polymer": entry.polymer}
    went_in = WentIn(polymer, tuple(worked), tuple(lot.form for _, lot in drawn))
    for place, output in enumerate(entry.outputs):
        check_output(declared, output, went_in, f"/outputs/{place}", found)
        wanted[f"/outputs/{place}/polymer"] = output.polymer
    check_losses(declared, entry.losses, found)
    check_heel(declared, entry.heel, found)
    if entry.heel:
        wanted["/heel/polymer"] = entry.heel.polymer
    check_polymers(workshop_id, wanted, found)
    check_feeds(entry, lots, found)
    weighed = [
        *((f"/inputs/{place}/weighing", draw.weighing) for place, draw in enumerate(entry.inputs)),
        *((f"/outputs/{place}/weighing", one.weighing) for place, one in enumerate(entry.outputs)),
        *((f"/counts/{place}/weighing", one.weighing) for place, one in enumerate(entry.counts)),
        *((f"/losses/{place}/weighing", one.weighing) for place, one in enumerate(entry.losses)),
    ]
    return check_scales(workshop_id, weighed, found)


def check_times(entry: RunEntry, found: Collected) -> None:
    """Note problems of the times inside a run."""
    for pointer, moment in times_inside(entry):
        if moment is not None:
            check_typed_moment(moment, pointer, found)


def times_inside(entry: RunEntry) -> list[tuple[str, datetime | None]]:
    """List the times inside a run, each with its pointer."""
    return [
        *((f"/feeds/{n}/at", feed.at) for n, feed in enumerate(entry.feeds)),
        *((f"/settings/{n}/at", setting.at) for n, setting in enumerate(entry.settings)),
        *((f"/checks/{n}/at", check.at) for n, check in enumerate(entry.checks)),
    ]


def times_of(entry: RunEntry) -> list[tuple[str, datetime | None]]:
    """List the times of a run, each with its pointer."""
    ends = [("/started_at", entry.started_at), ("/ended_at", entry.ended_at)]
    return [*ends, *times_inside(entry)]
