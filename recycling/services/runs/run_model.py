"""Choose how the origins of what a run gave are computed."""

from __future__ import annotations

from recycling.calc.lots.feed_order import WELL_MIXED
from recycling.keeping.changes import keep_change
from recycling.keeping.compositions import follow_up
from recycling.keeping.deed import deed
from recycling.keeping.lookups import run_named
from recycling.keeping.prepared import stage_named
from recycling.keeping.rules import check_model
from recycling.keeping.texts import require_reason
from recycling.models import Run
from recycling.records.actors import Actor
from recycling.records.recorded import ModelChosen
from shared.errors import Collected, Refused
from shared.said import say


@deed("correct")
def run_model_choose(actor: Actor, code: str, model: str, reason: str) -> ModelChosen:
    """Compute a run's outputs by another model, and all that descends from them.

    Raises
    ------
    Refused
        When the stage has no such model, the run is void, or it is computed so already.
    """
    reason = require_reason(reason)
    run, found = run_named(actor.workshop_id, code), Collected()
    check_model(stage_named(run.stage), model, found)
    found.refuse()
    if run.state == Run.VOID:
        raise Refused.because(
            "run-void", say("Run {run} was voided; nothing of it counts.", run=run.code)
        )
    before = run.composition_model
    if (before or WELL_MIXED) == model and (before or run.state != Run.OPEN):
        raise Refused.because(
            "nothing-changed", "Its origins are computed so already.", "/composition_model"
        )
    run.composition_model = model
    run.save(update_fields=["composition_model"])
    was, now = {"composition_model": before or WELL_MIXED}, {"composition_model": model}
    keep_change(actor, run.code, "choose model", was, now, reason)
    return ModelChosen(run.code, model, follow_up(actor.workshop_id, [run.pk]))
