"""Runs as far as they got, and typed figures: what is asked before something is recorded."""

from __future__ import annotations

from recycling.ledger.models import Posting
from recycling.models import Run
from recycling.queries.lots.postings import postings_of
from recycling.queries.runs.logs import log_of
from recycling.queries.runs.runs import run_of
from recycling.queries.runs.whole_draws import whole_draws
from recycling.records.actors import Actor
from recycling.records.runs.open_runs import RunInside, TypedFigure
from recycling.stages import stage
from shared.errors import Unknown


def run_inside(actor: Actor, code: str) -> RunInside:
    """Show a run as far as it got; raises Unknown when there is none."""
    run = run_of(actor, code)
    log = log_of(run)
    made = tuple((one.form, one.mass_mg) for one in log.outputs)
    declared = stage(run.stage)
    inputs_mg = sum(one.mass_mg for one in log.inputs)
    outputs_mg = sum(mass_mg for _form, mass_mg in made)
    inside_mg = run.account.balance_mg
    return RunInside(
        code=run.code,
        stage=run.stage,
        title=declared.title if declared else run.stage,
        state=run.state,
        polymer=run.polymer,
        machine=run.machine.name if run.machine else "",
        inputs=log.inputs,
        made=made,
        noted=tuple(dict.fromkeys(one.key for one in log.checks)),
        inputs_mg=inputs_mg,
        outputs_mg=outputs_mg,
        lost_mg=inputs_mg - outputs_mg - inside_mg,
        in_process_mg=inside_mg,
    )


def open_run_codes(actor: Actor, most: int = 12) -> list[str]:
    """Name the runs that go on, the newest first."""
    runs = Run.objects.filter(workshop_id=actor.workshop_id, state=Run.OPEN, origin=None)
    return list(runs.order_by("-number").values_list("code", flat=True)[:most])


def later_runs(actor: Actor, code: str) -> list[tuple[str, str]]:
    """List code and stage of runs, not void, that drew on what a run gave; none may, to void it."""
    later = Run.objects.filter(
        draws__lot__made_by=run_of(actor, code), draws__mass_mg__gt=0
    ).exclude(state=Run.VOID)
    return list(later.order_by("number").values_list("code", "stage").distinct())


def figure_typed(actor: Actor, posting: int) -> TypedFigure:
    """Show a posting with its corrections; a correction leads to what it corrects.

    Raises
    ------
    Unknown
        When there is no such posting in the workshop.
    """
    found = postings_of(actor.workshop_id, pk=posting)
    if not found:
        raise Unknown.because("posting-unknown", "There is no such posting in this workshop.")
    if found[0].corrects is not None:
        return figure_typed(actor, found[0].corrects)
    history = (*found, *postings_of(actor.workshop_id, corrects_id=posting))
    row = found[0]
    following = _following(posting) if row.lot else ()
    return TypedFigure(row, history, abs(sum(one.mass_mg for one in history)), following)


def _following(posting: int) -> tuple[tuple[str, str], ...]:
    """Name code and stage of the runs that took the lot of a figure whole, and so follow it."""
    figure = Posting.objects.select_related("entry").get(pk=posting)
    draws = whole_draws(figure.account_id, figure.entry.happened_at)
    runs = Run.objects.filter(pk__in=[one.entry.process_id for one in draws if one.pk != posting])
    return tuple(runs.order_by("number").values_list("code", "stage"))
