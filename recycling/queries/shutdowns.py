"""The purge before a barrel is shut down: what is proposed, and what was fed to it last."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime

from recycling.ledger.models import Posting
from recycling.models import Run
from recycling.queries.compounds import COMPOUND
from recycling.queries.practice import practice_rows
from recycling.queries.runs import run_of
from recycling.records.actors import Actor
from recycling.records.changeovers import ShutdownAdvice


def shutdown_advice(actor: Actor, code: str) -> ShutdownAdvice | None:
    """Propose the purge before an extrusion run is closed; None for other runs.

    Raises
    ------
    Unknown
        When there is no such run.
    """
    run = run_of(actor, code)
    if run.stage != "extrude" or run.machine_id is None:
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
