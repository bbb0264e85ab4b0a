"""Background jobs: fetch by id, make one call; each may run twice without harm."""

from recycling.tasks.archives import clear_archives, make_archive
from recycling.tasks.energy import energy_drafts, energy_look, energy_take
from recycling.tasks.imports import import_look, import_write
from recycling.tasks.recompute import recompute_compositions
from recycling.tasks.reconcile import reconcile_period
from recycling.tasks.reports import make_report
from recycling.tasks.sweep import sweep_jobs

__all__ = [
    "clear_archives",
    "energy_drafts",
    "energy_look",
    "energy_take",
    "import_look",
    "import_write",
    "make_archive",
    "make_report",
    "recompute_compositions",
    "reconcile_period",
    "sweep_jobs",
]
