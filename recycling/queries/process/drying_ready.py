"""When a drying that goes on is done."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from recycling.queries.process.drying_facts import Drying
from recycling.queries.setup.practice import material_rows
from recycling.records.actors import Actor
from recycling.records.runs.runs import RunRecord
from recycling.stages import DRYING


def ready_at(actor: Actor, run: RunRecord) -> datetime | None:
    """Say when an open drying is done if its heat stays as it is; None where nobody can say."""
    if run.state != "open" or run.stage not in DRYING:
        return None
    noted = sorted((one.happened_at, one.key, one.value) for one in run.settings)
    going = Drying(run.polymer, timezone.now(), {}, [(key, at, value) for at, key, value in noted])
    return going.ready_at(material_rows(actor.workshop_id, "drying").get(run.polymer))
