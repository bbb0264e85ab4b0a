"""Earlier runs of like material, as a starting point for the next one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from math import isnan

from django.db.models import F, Q, Sum

from recycling.calc.balance.yields import stage_yield_share
from recycling.calc.lots.feed_order import FEED_ORDER
from recycling.calc.lots.winding import Changes, Interval, in_force
from recycling.models import Composition, Draw, Lot, Run, RunSetting
from recycling.queries.lots.lots import lot_of
from recycling.queries.quality.verdicts import counted_verdicts
from recycling.queries.runs.feed_order import logged_runs
from recycling.records.actors import Actor
from recycling.records.tuning import ClosestRun
from recycling.stages import MAKING_FILAMENT, declared_of
from recycling.stages.declaration import MIXED, PRODUCT, RETURNED

MOST_RUNS = 300
SHOWN = 5

Shares = dict[tuple[str, int], float]


def closest_runs(actor: Actor, code: str) -> list[ClosestRun]:
    """List the extrusions of the same polymer whose material is most like a lot's.

    Likeness is the share of the material that comes from the same sources: the sum over sources
    of the smaller of the two shares. Of equal ones the newest comes first. Settings are those in
    force for most of what the run's product was made in, so those of a purge are none of them.

    Raises
    ------
    Unknown
        When there is no such lot.
    """
    lot = lot_of(actor, code)
    wanted = _shares(_parts(Q(lot_id=lot.pk)))[lot.made_by_id]
    runs = list(
        Run.objects.filter(
            workshop_id=actor.workshop_id,
            stage__in=MAKING_FILAMENT,
            state=Run.CLOSED,
            polymer=lot.polymer,
        )
        .exclude(pk=lot.made_by_id)
        .order_by("-ended_at", "-pk")[:MOST_RUNS]
    )
    shares = _shares(_parts(Q(lot__made_by__in=runs, lot__role=PRODUCT)))
    ranked = sorted(runs, key=lambda run: -_likeness(wanted, shares[run.pk]))[:SHOWN]
    ids = [run.pk for run in ranked]
    settings, yields, verdicts = _settings(ranked), _yields(ids), _verdicts(ids)
    return [
        ClosestRun(
            run=run.code,
            ended_at=run.ended_at,
            likeness=_likeness(wanted, shares[run.pk]),
            settings=settings.get(run.pk, ""),
            stage_yield=yields.get(run.pk),
            good=verdicts[run.pk][0],
            bad=verdicts[run.pk][1],
        )
        for run in ranked
        if run.ended_at is not None
    ]


def _parts(condition: Q) -> Iterable[tuple[int, int | None, int, int]]:
    rows = Composition.objects.filter(condition).order_by()
    grouped = rows.values_list("lot__made_by_id", "origin__source_id", "origin_id")
    return grouped.annotate(Sum("mass_mg"))


def _shares(parts: Iterable[tuple[int, int | None, int, int]]) -> dict[int, Shares]:
    """Turn masses into shares by source; what has no source counts by its origin."""
    masses: dict[int, dict[tuple[str, int], int]] = defaultdict(lambda: defaultdict(int))
    for run_id, source_id, origin_id, mass_mg in parts:
        key = ("source", source_id) if source_id else ("origin", origin_id)
        masses[run_id][key] += mass_mg
    found: dict[int, Shares] = defaultdict(dict)
    for run_id, by_source in masses.items():
        total = sum(by_source.values())
        found[run_id] = {key: mass_mg / total for key, mass_mg in by_source.items()}
    return found


def _likeness(one: Shares, other: Shares) -> float:
    return sum(min(share, other.get(key, 0.0)) for key, share in one.items())


def _settings(runs: Sequence[Run]) -> dict[int, str]:
    """Say for each run the value that each setting had for most of its product, by mass."""
    changes: dict[tuple[int, str], list[tuple[datetime, str]]] = defaultdict(list)
    rows = RunSetting.objects.filter(run__in=runs).order_by("happened_at", "pk")
    for run_id, key, value, at in rows.values_list("run_id", "key", "value", "happened_at"):
        changes[run_id, key].append((at, value))
    products = _products([run.pk for run in runs])
    logged = logged_runs([run.pk for run in runs])
    told = {}
    for run in runs:
        made = logged[run.pk].made(run.started_at, run.composition_model == FEED_ORDER)
        intervals = [
            (made[lot_id], mass_mg) for lot_id, mass_mg in products[run.pk] if lot_id in made
        ]
        fields = declared_of(run.stage).settings
        values = {
            field.key: _most(changes[run.pk, field.key], intervals)
            for field in fields
            if (run.pk, field.key) in changes
        }
        told[run.pk] = ", ".join(
            f"{field.label} {values[field.key]} {field.unit}".strip()
            for field in fields
            if values.get(field.key)
        )
    return told


def _most(changes: Changes, made: Iterable[tuple[Interval, int]]) -> str:
    """Give the value that most of the mass was made at; nothing where it is not known."""
    masses: dict[str, float] = defaultdict(float)
    for interval, mass_mg in made:
        for value, part in in_force(changes, interval).items():
            masses[value] += 0.0 if isnan(part) else part * mass_mg
    best = max(masses, key=lambda value: masses[value], default="")
    return best if best and masses[best] else ""


def _products(run_ids: Sequence[int]) -> dict[int, list[tuple[int, int]]]:
    found: dict[int, list[tuple[int, int]]] = defaultdict(list)
    rows = Lot.objects.filter(made_by_id__in=run_ids, role=PRODUCT, made_mg__gt=0).order_by("pk")
    for run_id, lot_id, mass_mg in rows.values_list("made_by_id", "pk", "made_mg"):
        found[run_id].append((lot_id, mass_mg))
    return found


def _yields(run_ids: list[int]) -> dict[int, float | None]:
    """Give the yields that the runs' own pages state: product over target polymer drawn."""
    products = _products(run_ids)
    target = Q(lot__polymer=F("run__polymer")) | Q(lot__polymer=MIXED)
    drawn = Draw.objects.filter(target, run_id__in=run_ids)
    inputs = dict(drawn.values_list("run_id").order_by().annotate(Sum("mass_mg")))
    back = Lot.objects.filter(made_by_id__in=run_ids, role=RETURNED)
    returned = dict(back.values_list("made_by_id").order_by().annotate(Sum("made_mg")))
    return {
        run_id: stage_yield_share(
            sum(mg for _, mg in products[run_id]), max(mass_mg - returned.get(run_id, 0), 0)
        )
        for run_id, mass_mg in inputs.items()
        if mass_mg
    }


def _verdicts(run_ids: list[int]) -> dict[int, tuple[int, int]]:
    """Count spools that everybody called good, and those that anybody called bad."""
    makers = dict(
        Lot.objects.filter(made_by_id__in=run_ids, verdicts__isnull=False)
        .distinct()
        .values_list("pk", "made_by_id")
    )
    bad: dict[int, bool] = defaultdict(bool)
    for lot_id, good, _ in counted_verdicts(makers):
        bad[lot_id] |= not good
    found: dict[int, tuple[int, int]] = defaultdict(lambda: (0, 0))
    for lot_id, is_bad in bad.items():
        yes, no = found[makers[lot_id]]
        found[makers[lot_id]] = (yes + (not is_bad), no + is_bad)
    return found
