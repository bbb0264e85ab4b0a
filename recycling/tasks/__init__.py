"""Background jobs: fetch by id, make one call; each may run twice without harm."""

from recycling.tasks.balance import reconcile_period
from recycling.tasks.energy import energy_drafts, energy_look, energy_take
from recycling.tasks.integrity import clear_archives, make_archive, sweep_jobs
from recycling.tasks.lists.take import import_look, import_take_back, import_write
from recycling.tasks.reports import make_report
from recycling.tasks.runs import recompute_compositions

__all__ = [
    "clear_archives",
    "energy_drafts",
    "energy_look",
    "energy_take",
    "import_look",
    "import_take_back",
    "import_write",
    "make_archive",
    "make_report",
    "recompute_compositions",
    "reconcile_period",
    "sweep_jobs",
]
