"""Record a whole run in one go."""

from __future__ import annotations

from recycling.calc.lots.feed_order import FEED_ORDER
from recycling.keeping.compositions import compose_outputs, follow_up, recompute
from recycling.keeping.deed import deed, undo_until
from recycling.keeping.deviations import keep_deviations
from recycling.keeping.doubted_figures import Figure
from recycling.keeping.doubts import asked_of, outputs_typed, spans_asked, told
from recycling.keeping.draw_checks import limits_doubted, open_too_long
from recycling.keeping.lots import accounts_of, keep_weighings, make_lots
from recycling.keeping.noted import above_limits
from recycling.keeping.posting import Page
from recycling.keeping.prepared import Prepared, prepare, times_of
from recycling.keeping.righting import post_late
from recycling.keeping.run_log import keep_draws, keep_feeds, keep_log
from recycling.keeping.runs import account_of, new_lots, over_border, start_run
from recycling.ledger.post import Change, open_accounts, take_numbers
from recycling.models import Lot, Run
from recycling.queries.lots.deviations import deviations_of
from recycling.records.actors import Actor
from recycling.records.recorded import RunRecorded, recorded
from recycling.records.runs.entries import RunEntry
from recycling.stages import stage
from recycling.stages.declaration import RETURNED, UNACCOUNTED
from shared.errors import Refused


@deed("record")
def run_record(actor: Actor, entry: RunEntry) -> RunRecorded:
    """Record a run with all it drew, gave and lost; the rest is posted as unaccounted.

    Raises
    ------
    Refused
        With every problem of the entry, or when a lot is held or would go below zero.
    """
    if entry.ended_at is None:
        raise Refused.because("end-missing", "Say when the run ended.", "/ended_at")
    if (declared := stage(entry.stage)) and declared.own_page:
        raise Refused.because(
            "stage-of-its-own",
            "What comes in is recorded as a collection, a purchase or an opening count;"
            " a stock count as a count.",
            "/stage",
        )
    prepared = prepare(actor, entry)
    new = new_lots(prepared)
    number, *numbers = take_numbers(actor.workshop_id, 1 + len(new))
    drawn = prepared.drawn
    drawn_mg = sum(mass_mg for _, mass_mg in drawn)
    left = over_border(prepared)
    rest_mg = drawn_mg - sum(lot.mass_mg for lot in new) - sum(mass_mg for _, mass_mg in left)
    if rest_mg:
        left.append(((UNACCOUNTED, prepared.polymer), rest_mg))
    names = list(dict.fromkeys(name for name, _ in left))
    accounts = [account_of(prepared), *accounts_of(new)]
    own, *others = open_accounts(actor.workshop_id, accounts, names)
    run = start_run(actor, prepared, Run.CLOSED, number=number, account_id=own)
    lots = make_lots(actor.workshop_id, run.pk, new, numbers, others[: len(new)])
    border = dict(zip(names, others[len(new) :], strict=True))
    changes = [Change(lot.lot_id, -mass_mg) for lot, mass_mg in drawn]
    changes += [Change(lot.pk, lot.made_mg) for lot in lots]
    changes += [Change(border[name], mass_mg) for name, mass_mg in left]
    page = Page(run, "run", entry.ended_at, changes)
    postings, after = post_late(actor, page, prepared.late, lots)
    keep_draws(run, drawn)
    weighed = _weighed(prepared, lots)
    how = [(posting, one.weighing) for posting, one in zip(postings, weighed, strict=False)]
    keep_weighings(actor.workshop_id, actor.reference, how, means=prepared.means)
    keep_feeds(run, prepared)
    keep_log(actor, run, prepared.entry, prepared.within)
    if after:
        follow_up(actor.workshop_id, [run.pk, *after])
    elif entry.composition_model == FEED_ORDER or any(lot.role == RETURNED for lot in lots):
        recompute(actor.workshop_id, [run.pk])
    else:
        compose_outputs(
            actor.workshop_id,
            [(lot.lot_id, mass_mg) for lot, mass_mg in drawn],
            [(lot.pk, lot.made_mg) for lot in lots],
        )
        keep_deviations(actor.workshop_id, [run.pk], new=True)
    noted = [(f"/checks/{n}/value", one.key, one.value) for n, one in enumerate(entry.checks)]
    spans = spans_asked(prepared.stage, run, noted)
    unsure = asked_of(actor, run, weighed, prepared.means, drawn_mg, spans, times_of(entry))
    codes = [lot.code for lot, _mass_mg in drawn]
    unsure += told("open-too-long", open_too_long(run, codes, entry.started_at))
    unsure += told("limit-missed", limits_doubted(run))
    unsure += told("check-above", above_limits(prepared.stage, entry.checks, prepared.within))
    said = deviations_of([run.pk])
    until = undo_until()
    return recorded(run.code, run.stage, drawn_mg, lots, rest_mg, unsure, said, until)


def _weighed(prepared: Prepared, lots: list[Lot]) -> list[Figure]:
    """Say of each mass what it is of, its mg, and how it became known: drawn, made, lost."""
    entry = prepared.entry
    weighed = [
        Figure(f"/inputs/{n}", lot.form, mass_mg, draw.known_by, lot.lot_id)
        for n, ((lot, mass_mg), draw) in enumerate(zip(prepared.drawn, entry.inputs, strict=True))
    ]
    weighed += outputs_typed(entry.outputs, lots)
    weighed += [
        Figure("/heel", lot.form, lot.made_mg, lot_id=lot.pk, form=lot.form)
        for lot in lots[len(entry.outputs) :]
    ]
    return weighed + [
        Figure(f"/losses/{n}", loss.account, loss.mass_mg, loss.known_by)
        for n, loss in enumerate(entry.losses)
    ]
