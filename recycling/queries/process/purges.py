"""The processing window of what is in a machine, a purge compound's by where it came from.

The purge before a barrel is shut down: what is proposed, and what was fed to it last.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime

from recycling.ledger.models import Posting
from recycling.models import Lot, Run
from recycling.queries.runs.runs import run_of
from recycling.queries.setup.practice import practice_rows
from recycling.records.actors import Actor
from recycling.records.energy.machines import HeelRow
from recycling.records.process.changeovers import ShutdownAdvice
from recycling.records.setup.practice import WindowRow

COMPOUND = "purge compound"
PURGE = "purge"
"""Symbol under which every purge compound stands in the book, whatever its name."""


def heel_window(workshop_id: int, heel: HeelRow, windows: dict[str, WindowRow]) -> WindowRow | None:
    """Give the window of a heel: of its polymer, or of the purge compound that it is."""
    if heel.polymer in windows or heel.polymer != PURGE:
        return windows.get(heel.polymer)
    compounds = [one for one in windows.values() if one.kind == COMPOUND]
    told = _told(workshop_id, heel.lot)
    named = [one for one in compounds if one.material.casefold() in told]
    fitting = named or compounds
    return fitting[0] if len(fitting) == 1 else None


def _told(workshop_id: int, code: str) -> str:
    """Read what is written of where the purge compounds came from that went into a heel."""
    bought = Lot.objects.filter(
        workshop_id=workshop_id,
        form=COMPOUND,
        draws__run__outputs__code=code,
        draws__mass_mg__gt=0,
        origin__isnull=False,
    )
    told = bought.values_list("origin__supplier", "origin__document", "origin__note").distinct()
    return "\n".join(text for row in told for text in row).casefold()


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
