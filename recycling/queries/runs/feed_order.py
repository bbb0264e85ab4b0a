"""The order in which runs were fed and gave, for those whose origins are computed in feed order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection

from recycling.calc.lots.feed_order import FEED_ORDER
from recycling.calc.lots.recomposition import FeedLog
from recycling.ledger.models import LOT, Posting
from recycling.models import Draw, Feed, Lot, Run
from recycling.stages.declaration import HEEL

Timed = list[tuple[tuple, int, int]]


def feed_logs(workshop_id: int, run_ids: Collection[int] | None = None) -> dict[int, FeedLog]:
    """Read the logs of a workshop's runs in feed order, or of those among some runs.

    A run that goes on is well mixed until it is closed: what is still to come is not known.
    """
    runs = Run.objects.filter(workshop_id=workshop_id, composition_model=FEED_ORDER)
    chosen = set(runs.exclude(state=Run.OPEN).values_list("pk", flat=True))
    if run_ids is not None:
        chosen &= set(run_ids)
    return logs_of(chosen) if chosen else {}


def logs_of(run_ids: Collection[int]) -> dict[int, FeedLog]:
    """Read what is known of the order in some runs, however their origins are computed."""
    heels: dict[int, set[int]] = defaultdict(set)
    drawn = Draw.objects.filter(run_id__in=run_ids, lot__form=HEEL)
    for run_id, lot_id in drawn.values_list("run_id", "lot_id"):
        heels[run_id].add(lot_id)
    left, fed, given = _heels_left(run_ids), _fed(run_ids), _given(run_ids)
    return {
        run_id: FeedLog(
            frozenset(heels[run_id]), tuple(fed[run_id]), tuple(given[run_id]), left.get(run_id)
        )
        for run_id in run_ids
    }


def _heels_left(run_ids: Collection[int]) -> dict[int, int]:
    rows = Lot.objects.filter(made_by_id__in=run_ids, form=HEEL).order_by("pk")
    return dict(rows.values_list("made_by_id", "pk"))


def _fed(run_ids: Collection[int]) -> dict[int, list[tuple[int, int]]]:
    """Refills as logged; where a lot has none, its draws while the run went on."""
    timed: dict[int, Timed] = defaultdict(list)
    logged = set()
    rows = Feed.objects.filter(run_id__in=run_ids).order_by("happened_at", "pk")
    for run_id, lot_id, mass_mg, at, pk in rows.values_list(
        "run_id", "lot_id", "mass_mg", "happened_at", "pk"
    ):
        logged.add((run_id, lot_id))
        timed[run_id].append(((at, 1, pk), lot_id, mass_mg))
    draws = Posting.objects.filter(
        entry__process_id__in=run_ids, entry__kind="draw", account__kind=LOT, mass_mg__lt=0
    )
    for run_id, lot_id, mass_mg, at, pk in draws.values_list(
        "entry__process_id", "account_id", "mass_mg", "entry__happened_at", "pk"
    ):
        if (run_id, lot_id) not in logged:
            timed[run_id].append(((at, 0, pk), lot_id, -mass_mg))
    fed: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for run_id, rows_of_run in timed.items():
        fed[run_id] = [(lot_id, mass_mg) for _, lot_id, mass_mg in sorted(rows_of_run)]
    return fed


def _given(run_ids: Collection[int]) -> dict[int, list[int]]:
    rows = Posting.objects.filter(
        entry__process_id__in=run_ids,
        account__kind=LOT,
        account__lot__made_by_id__in=run_ids,
        corrects=None,
        mass_mg__gt=0,
    ).order_by("entry__happened_at", "pk")
    given: dict[int, list[int]] = defaultdict(list)
    for run_id, lot_id in rows.values_list("entry__process_id", "account_id"):
        if lot_id not in given[run_id]:
            given[run_id].append(lot_id)
    return given
