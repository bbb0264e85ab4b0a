"""An account's mass over time: it may be below zero at no moment."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Sum

from recycling.ledger.models import Posting


def lowest_after(
    account_id: int, changes: Iterable[tuple[datetime, int]]
) -> tuple[int, datetime | None]:
    """Return the lowest mass in mg that the account would have had, and when it first fell there.

    What happened at the same moment counts together: a lot may be made and used up at once.
    The time is None where the mass is never below zero.
    """
    moments: dict[datetime, int] = dict(
        Posting.objects.filter(account_id=account_id)
        .values_list("entry__happened_at")
        .annotate(Sum("mass_mg"))
    )
    for happened_at, mass_mg in changes:
        moments[happened_at] = moments.get(happened_at, 0) + mass_mg
    lowest, when, mass = 0, None, 0
    for happened_at in sorted(moments):
        mass += moments[happened_at]
        if mass < lowest:
            lowest, when = mass, happened_at
    return lowest, when
