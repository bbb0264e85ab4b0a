"""The months of a period side by side, each with what was collected, made and lost."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db.models import Case, F, Sum, Value, When
from django.db.models.functions import TruncMonth

from recycling.ledger.models import LOT, PROCESS, Posting
from recycling.models import Origin
from recycling.queries.balance.balance import checked_period
from recycling.records.actors import Actor
from recycling.records.balance.balance import MonthBalance
from recycling.stages import MELTING
from recycling.stages.declaration import (
    DISCARDED,
    DISPATCHED,
    LOSSES,
    PRODUCT,
    RECEIVED,
    SIDE,
    UNACCOUNTED,
    WASTE,
)

BORDERS = {
    DISPATCHED: "dispatched_mg",
    DISCARDED: "discarded_mg",
    UNACCOUNTED: "unaccounted_mg",
    **dict.fromkeys(LOSSES, "lost_mg"),
}
GIVEN = {SIDE: "side_mg", WASTE: "waste_mg"}


def months(actor: Actor, start: datetime, end: datetime) -> list[MonthBalance]:
    """Add up each month in which something happened, by the workshop's clock.

    Raises
    ------
    Refused
        When the period ends before it starts.
    """
    checked_period(start, end)
    own = Case(
        When(account__lot__made_by_id=F("entry__process_id"), then=Value(1)), default=Value(0)
    )
    rows = (
        Posting.objects.filter(
            entry__book_id=actor.workshop_id,
            entry__happened_at__gte=start,
            entry__happened_at__lt=end,
        )
        .exclude(account__kind=PROCESS)
        .annotate(month=TruncMonth("entry__happened_at", tzinfo=ZoneInfo(actor.zone)), own=own)
        .values_list(
            "month",
            "account__kind",
            "account__name",
            "account__lot__role",
            "own",
            "entry__process__run__stage",
            "entry__process__run__origin__kind",
        )
        .order_by("month")
        .annotate(Sum("mass_mg"))
    )
    sums: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for month, kind, name, role, is_own, stage, origin, mass_mg in rows:
        line = sums[month.strftime("%Y-%m")]
        if kind == LOT:
            if column := _given(role, bool(is_own), stage):
                line[column] += mass_mg
        elif name == RECEIVED:
            line["collected_mg"] -= mass_mg if origin == Origin.COLLECTION else 0
        else:
            line[BORDERS[name]] += mass_mg
    return [MonthBalance(month, **line) for month, line in sums.items()]


def _given(role: str, is_own: bool, stage: str) -> str:
    """Say in which column a lot counts that a run gave; empty for none."""
    if not is_own:
        return ""
    if role == PRODUCT and stage in MELTING:
        return "filament_mg"
    return GIVEN.get(role, "")
