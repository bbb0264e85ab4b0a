"""What takes up a difference in a run."""

from __future__ import annotations

from recycling.ledger.post import Change, border_account
from recycling.models import Run
from recycling.stages import stage
from recycling.stages.declaration import UNACCOUNTED


def counter(run: Run, commodity: str, mass_mg: int) -> Change:
    """Say where a difference goes: over the border it came by, else into what closes the run."""
    if run.state == Run.OPEN:
        return Change(run.pk, mass_mg)
    declared = stage(run.stage)
    if declared is not None and declared.border:
        return Change(border_account(run.workshop_id, declared.border, commodity), mass_mg)
    return Change(border_account(run.workshop_id, UNACCOUNTED, run.polymer), mass_mg)
