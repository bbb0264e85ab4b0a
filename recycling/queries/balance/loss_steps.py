"""Where a period's mass went on the way from collected to spooled, exact in milligrams."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime

from django.db.models import Case, CharField, F, Sum, Value, When

from recycling.calc.balance.yields import loss_waterfall
from recycling.ledger.models import BORDER, PROCESS, Posting
from recycling.records.balance.yields import LossStep
from recycling.stages import STAGES
from recycling.stages.declaration import (
    DISCARDED,
    DISPATCHED,
    LOSSES,
    RECEIVED,
    SIDE,
    UNACCOUNTED,
    WASTE,
)

SPOOL, STOCK = "spool", "stock"
LEFT = (SIDE, WASTE, *LOSSES, UNACCOUNTED)
"""What leaves the way at a stage, in the order shown."""

Key = tuple[str, str]


def loss_steps(workshop_id: int, start: datetime, end: datetime) -> tuple[LossStep, ...]:
    """Step from what was collected in a period down to the spools that were made in it."""
    received, made, moved = _moved(workshop_id, start, end)
    collected_mg = received.pop("collection", 0)
    came = [("", kind, -mass_mg) for kind, mass_mg in sorted(received.items())]
    return steps_from(collected_mg, came, made, moved)


def steps_from(
    collected_mg: int,
    came: list[tuple[str, str, int]],
    made: dict[Key, int],
    moved: dict[Key, int],
) -> tuple[LossStep, ...]:
    """Step from what was collected over what left the way down to the spools."""
    spooled_mg = sum(mass_mg for (_, what), mass_mg in made.items() if what == SPOOL)
    listed = [*came, *_left(made), *_around(made, moved)]
    names = [(stage, what) for stage, what, _ in listed]
    steps = loss_waterfall(
        max(collected_mg, 0), [(f"{n}", mass) for n, (_, _, mass) in enumerate(listed)], spooled_mg
    )
    return tuple(
        LossStep(*_name(step.label, names), step.change_mg, step.left_mg, place in (0, last))
        for last in [len(steps) - 1]
        for place, step in enumerate(steps)
    )


def _name(label: str, names: list[Key]) -> Key:
    return names[int(label)] if label.isdigit() else ("", label)


def _moved(
    workshop_id: int, start: datetime, end: datetime
) -> tuple[dict[str, int], dict[Key, int], dict[Key, int]]:
    """What came in by its kind; what each stage made or lost, and took, by kind of lot."""
    what = Case(
        When(account__kind=BORDER, then=F("account__name")),
        When(account__kind=PROCESS, then=Value(PROCESS)),
        When(account__lot__spool__isnull=False, then=Value(SPOOL)),
        When(account__lot__role__in=[SIDE, WASTE], then=F("account__lot__role")),
        default=Value(STOCK),
        output_field=CharField(),
    )
    own = Case(
        When(account__lot__made_by_id=F("entry__process_id"), then=Value(1)), default=Value(0)
    )
    came = Case(When(account__name=RECEIVED, then=F("entry__process__run__origin__kind")))
    rows = (
        Posting.objects.filter(
            entry__book_id=workshop_id,
            entry__happened_at__gte=start,
            entry__happened_at__lt=end,
        )
        .annotate(what=what, own=own)
        .annotate(came=came)
        .values_list("entry__process__run__stage", "what", "own", "account__kind", "came")
        .order_by()
        .annotate(Sum("mass_mg"))
    )
    received: dict[str, int] = defaultdict(int)
    made: dict[Key, int] = defaultdict(int)
    moved: dict[Key, int] = defaultdict(int)
    for stage, kind, is_own, account, origin, mass_mg in rows:
        if account == BORDER and kind == RECEIVED:
            received[origin] -= mass_mg
        wanted = made if is_own or account == BORDER else moved
        wanted[stage, kind] += mass_mg
    return received, made, moved


def _left(made: dict[Key, int]) -> Iterable[tuple[str, str, int]]:
    for stage in STAGES:
        for what in LEFT:
            if mass_mg := made.get((stage.key, what), 0):
                yield stage.key, what, mass_mg


def _around(made: dict[Key, int], moved: dict[Key, int]) -> Iterable[tuple[str, str, int]]:
    """What went into stock, over the border out of it, and what was taken back from the side."""
    gone = (DISPATCHED, DISCARDED)
    ended = {stage.key for stage in STAGES if stage.border in gone}
    out = sum(mass for (_, what), mass in made.items() if what in gone)
    besides = {key: mass for key, mass in moved.items() if key[1] in (SPOOL, SIDE, WASTE)}
    out += sum(mass for (stage, _), mass in besides.items() if stage in ended)
    back = sum(mass for (stage, _), mass in besides.items() if stage not in ended)
    kept = sum(
        mass for one in (made, moved) for (_, what), mass in one.items() if what in (STOCK, PROCESS)
    )
    for what, mass_mg in (("gone from stock", out), ("taken back", back), ("into stock", kept)):
        if mass_mg:
            yield "", what, mass_mg
