"""Void a run by opposite postings, alone or with all that followed from it."""

from __future__ import annotations

from recycling.keeping.deed import deed
from recycling.keeping.lookups import run_named
from recycling.keeping.texts import require_reason
from recycling.keeping.voiding import refuse_built_on, void_together, with_what_follows
from recycling.models import Run
from recycling.records.actors import Actor
from recycling.records.recorded import Corrected
from shared.errors import Refused
from shared.said import say


@deed("void")
def run_void(actor: Actor, code: str, reason: str, with_descendants: bool = False) -> Corrected:
    """Take a run back by opposite postings; it stays readable as void.

    With `with_descendants`, the runs that drew on what it gave, and so on, are voided in the same
    deed, and counts that found nothing else.

    Raises
    ------
    Refused
        When it is void already, or later runs have drawn on what it gave: they are named.
    """
    reason = require_reason(reason)
    run = run_named(actor.workshop_id, code)
    if run.state == Run.VOID:
        raise Refused.because("run-void", say("Run {run} was voided before.", run=run.code))
    if not with_descendants:
        refuse_built_on(run)
    runs = with_what_follows(run) if with_descendants else [run]
    done = void_together(actor, runs, reason)
    voided = tuple(one.code for one in runs)
    return Corrected(run.code, None, 0, 0, 0, done.waiting_runs, done.changes, voided)
