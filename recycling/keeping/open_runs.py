"""Postings of a run while it goes on: what goes in waits in its work in process."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime

from django.db.models import F
from django.utils import timezone

from recycling.keeping.compositions import compose_outputs, downstream_runs, recompute
from recycling.keeping.counted_pieces import with_masses_counted
from recycling.keeping.last_parts import part_until
from recycling.keeping.lookups import (
    check_polymers,
    check_scales,
    check_typed_moment,
    run_named,
)
from recycling.keeping.lots import keep_weighings, make_lots
from recycling.keeping.output_rules import WentIn, check_losses, check_output
from recycling.keeping.posting import post_run
from recycling.keeping.prepared import stage_named
from recycling.keeping.runs import new_lot, one_colour
from recycling.keeping.spools import going_on_as_spool
from recycling.ledger.models import Account, Entry
from recycling.ledger.post import Change, Overdrawn, border_account
from recycling.models import Draw, Lot, Run
from recycling.queries.lots.deviations import deviations_of
from recycling.records.actors import Actor
from recycling.records.balance.doubts import EntryDoubt
from recycling.records.lots.mass_entries import LossEntry, OutputEntry, WeighingEntry
from recycling.records.recorded import RunRecorded, recorded
from recycling.stages.declaration import MIXED, RETURNED, Stage
from shared.errors import Collected, Conflict, Refused
from shared.said import say

When = datetime | Sequence[datetime | None] | None
"""One time for all of several things, or one for each; None is now."""


def open_run(actor: Actor, code: str) -> tuple[Run, Stage]:
    """Find a run that is still open, or say what became of it."""
    run = run_named(actor.workshop_id, code)
    if run.state != Run.OPEN:
        raise Conflict.because(
            "run-not-open",
            say(
                "Run {run} is {state}; correct a figure of it instead.",
                run=run.code,
                state=run.state,
            ),
        )
    return run, stage_named(run.stage)


def moment_in(run: Run, at: datetime | None, pointer: str = "/at") -> datetime:
    """Return when something happened in a run: now, or a given time since its start."""
    if at is None:
        return max(timezone.now(), run.started_at)
    found = Collected()
    check_typed_moment(at, pointer, found)
    if not found.any and at < run.started_at:
        found.add("before-start", "This is before the run's start.", pointer)
    found.refuse()
    return at


def moments_in(run: Run, at: When, pointer: str, count: int) -> list[datetime]:
    """Return when each of several things happened: all at one time, or each at its own."""
    if at is None or isinstance(at, datetime):
        return [moment_in(run, at)] * count
    now = moment_in(run, None)
    return [
        moment_in(run, one, f"{pointer}/{place}/at") if one else now for place, one in enumerate(at)
    ]


def times_typed(at: When, pointer: str) -> list[tuple[str, datetime | None]]:
    """List the times that were given for things of an open run, each with its pointer."""
    if at is None or isinstance(at, datetime):
        return [("/at", at)]
    return [(f"{pointer}/{place}/at", one) for place, one in enumerate(at)]


@contextmanager
def one_of_several(pointer: str, place: int) -> Iterator[None]:
    """Point to one of several things that are checked and posted one by one, as if alone."""
    here, alone = f"{pointer}/{place}", f"{pointer}/0"
    try:
        yield
    except Refused as refused:
        refused.problems = tuple(
            replace(one, pointer=here + one.pointer.removeprefix(alone))
            if one.pointer.startswith(f"{alone}/")
            else one
            for one in refused.problems
        )
        raise
    except Overdrawn as overdrawn:
        overdrawn.pointer = here
        raise


def post_in(
    actor: Actor, run: Run, kind: str, at: datetime, changes: Sequence[Change]
) -> list[int]:
    """Post changes against the run's work in process."""
    counter = Change(run.pk, -sum(change.mass_mg for change in changes))
    return post_run(actor, run, kind, at, [*changes, counter])


def _post_each(
    actor: Actor,
    run: Run,
    kind: str,
    moments: Sequence[datetime],
    weighed: Sequence[tuple[Change, WeighingEntry]],
) -> None:
    """Post changes, those of one moment as one entry, and keep how each mass became known."""
    for at in dict.fromkeys(moments):
        these = [one for one, when in zip(weighed, moments, strict=True) if when == at]
        postings = post_in(actor, run, kind, at, [change for change, _how in these])
        how = [(posting, how) for posting, (_change, how) in zip(postings, these, strict=False)]
        keep_weighings(actor.workshop_id, actor.reference, how)


def going_on(
    run: Run, lots: Sequence[Lot] = (), doubts: tuple[EntryDoubt, ...] = ()
) -> RunRecorded:
    """Show an open run after something was recorded of it, with the lots made just now."""
    said = deviations_of([run.pk])
    inside, until = in_process_mg(run), part_until(run)
    return recorded(run.code, run.stage, inside, lots, None, doubts, said, until)


def in_process_mg(run: Run) -> int:
    """Return the mass in mg that is inside an open run."""
    return Account.objects.values_list("balance_mg", flat=True).get(pk=run.pk)


def add_to_draw(run: Run, lot_id: int, mass_mg: int) -> None:
    """Keep what a run drew from a lot in step with a further posting."""
    if Draw.objects.filter(run=run, lot_id=lot_id).update(mass_mg=F("mass_mg") + mass_mg):
        return
    Draw.objects.create(run=run, lot_id=lot_id, mass_mg=mass_mg)


def set_polymer(run: Run, polymer: str) -> None:
    """Fix the polymer of a run that was opened without one; nothing is posted to it yet."""
    if run.polymer or not polymer:
        return
    run.polymer = polymer
    run.save(update_fields=["polymer"])
    Account.objects.filter(pk=run.pk).update(commodity=polymer)


def work_on(run: Run, declared: Stage, polymer: str) -> None:
    """Fix the polymer of a run by what it draws: one, or mixed once it draws another one too.

    What is inside it stays under the first until it comes out: nothing in the book is restated.
    """
    worked = {*worked_in(run, declared)[0], polymer}
    now = polymer if len(worked) == 1 else MIXED
    if not run.polymer:
        set_polymer(run, now)
    elif run.polymer != now:
        run.polymer = now
        run.save(update_fields=["polymer"])


def polymer_of(run: Run) -> str:
    """Return a run's polymer; where only purge and heel went in, that of the largest draw."""
    largest = run.draws.filter(mass_mg__gt=0).order_by("-mass_mg", "pk")
    return run.polymer or largest.values_list("lot__polymer", flat=True).first() or ""


def worked_in(run: Run, declared: Stage) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the polymers that a run drew to work on, and the forms of all it drew, in order."""
    drawn = run.draws.filter(mass_mg__gt=0).order_by("pk")
    lots = list(drawn.values_list("lot__polymer", "lot__form"))
    worked = [polymer for polymer, form in lots if not declared.fed_besides(form)]
    return tuple(dict.fromkeys(worked)), tuple(dict.fromkeys(form for _, form in lots))


def colours_in(run: Run, declared: Stage) -> list[str]:
    """Return the colours of the lots that a run drew to work on."""
    drawn = run.draws.filter(mass_mg__gt=0).values_list("lot__form", "lot__colour")
    return [colour for form, colour in drawn if not declared.fed_besides(form)]


def add_outputs(
    actor: Actor, run: Run, outputs: Sequence[OutputEntry], moments: Sequence[datetime]
) -> list[Lot]:
    """Make the lots of an open run, post them and compose them of what was drawn so far."""
    declared, found = stage_named(run.stage), Collected()
    drawn = list(
        Draw.objects.filter(run=run, mass_mg__gt=0).order_by("pk").values_list("lot_id", "mass_mg")
    )
    if not drawn:
        found.add("inputs-missing", "Draw something into the run first.", "/inputs")
        found.refuse()
    outputs = with_masses_counted(actor.workshop_id, outputs, "/outputs", found)
    outputs = going_on_as_spool(declared, tuple(outputs), [lot_id for lot_id, _ in drawn])
    polymer = run.polymer or next((one.polymer for one in outputs if one.polymer), "")
    went_in = WentIn(polymer, *worked_in(run, declared))
    for place, output in enumerate(outputs):
        check_output(declared, output, went_in, f"/outputs/{place}", found)
    check_polymers(
        actor.workshop_id,
        {f"/outputs/{place}/polymer": one.polymer for place, one in enumerate(outputs)},
        found,
    )
    weighed = [(f"/outputs/{place}/weighing", one.weighing) for place, one in enumerate(outputs)]
    check_scales(actor.workshop_id, weighed, found)
    found.refuse()
    colour = one_colour(colours_in(run, declared))
    lots = make_lots(
        actor.workshop_id,
        run.pk,
        [new_lot(declared, output, polymer, went_in.forms, colour) for output in outputs],
    )
    changes = [Change(lot.pk, lot.made_mg) for lot in lots]
    how = [output.weighing for output in outputs]
    _post_each(actor, run, "output", moments, list(zip(changes, how, strict=True)))
    if any(lot.role == RETURNED for lot in lots) or (len(drawn) > 1 and _fed_since(run)):
        recompute(actor.workshop_id, downstream_runs([run.pk]))
    else:
        compose_outputs(actor.workshop_id, drawn, [(lot.pk, lot.made_mg) for lot in lots])
    return lots


def _fed_since(run: Run) -> bool:
    """Say whether something was fed after an output was taken off: then outputs differ."""
    told = Entry.objects.filter(process_id=run.pk, kind__in=("draw", "output"))
    moments = list(told.values_list("kind", "happened_at"))
    first = min(at for kind, at in moments if kind == "output")
    return any(at > first for kind, at in moments if kind == "draw")


def add_losses(
    actor: Actor, run: Run, losses: tuple[LossEntry, ...], moments: Sequence[datetime]
) -> None:
    """Check and post losses against the run's work in process."""
    found, polymer = Collected(), polymer_of(run)
    if losses and not polymer:
        found.add("inputs-missing", "Draw something into the run first.", "/inputs")
    check_losses(stage_named(run.stage), losses, found)
    weighed = [(f"/losses/{place}/weighing", one.weighing) for place, one in enumerate(losses)]
    check_scales(actor.workshop_id, weighed, found)
    found.refuse()
    if not losses:
        return
    changes = [
        Change(border_account(actor.workshop_id, loss.account, polymer), loss.mass_mg)
        for loss in losses
    ]
    how = [loss.known_by for loss in losses]
    _post_each(actor, run, "loss", moments, list(zip(changes, how, strict=True)))
