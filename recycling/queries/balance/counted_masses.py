"""What stock counts found, with how sure it is: each count is a weighing of its lot."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from django.db.models import Q

from recycling.calc.balance.known_masses import Sureness
from recycling.models import Counted, Run

if TYPE_CHECKING:
    from recycling.queries.balance.known_masses import Instruments

COLUMNS = (
    "pk",
    "run_id",
    "lot_id",
    "run__ended_at",
    "mass_mg",
    "lot__role",
    "lot__count",
    "weighing__how",
    "weighing__tare_mg",
    "weighing__scale_id",
    "weighing__sample_id",
    "weighing__u_mg",
)
_NAMES = tuple(name.split("__")[-1] for name in COLUMNS)


@dataclass(frozen=True)
class CountedMass:
    """What a count found in a lot, whether the book had as much or not."""

    number: int
    run_id: int
    lot_id: int
    happened_at: datetime
    mass_mg: int
    sure: Sureness


def counted_masses(where: Q, instruments: Instruments) -> list[CountedMass]:
    """Read what counts found; `where` chooses among them; those of void runs are none."""
    found = Counted.objects.filter(where, run__workshop_id=instruments.workshop_id)
    found = found.exclude(run__state=Run.VOID).order_by("pk")
    read = (dict(zip(_NAMES, values, strict=True)) for values in found.values_list(*COLUMNS))
    return [
        CountedMass(
            row["pk"],
            row["run_id"],
            row["lot_id"],
            row["ended_at"],
            row["mass_mg"],
            instruments.sureness(instruments.known({**row, "pk": -row["pk"]}, row["mass_mg"])),
        )
        for row in read
    ]
