"""Earlier runs of like material, as a starting point for the next one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from django.db.models import Q, Sum

from recycling.calc.balance.yields import stage_yield_share
from recycling.models import Composition, Draw, Lot, Run, RunSetting, Verdict
from recycling.queries.lots.lots import lot_of
from recycling.records.actors import Actor
from recycling.records.tuning import ClosestRun
from recycling.stages import stage
from recycling.stages.declaration import PRODUCT

MOST_RUNS = 300
SHOWN = 5

Shares = dict[tuple[str, int], float]


def closest_runs(actor: Actor, code: str) -> list[ClosestRun]:
    """List the extrusions of the same polymer whose material is most like a lot's.

    Likeness is the share of the material that comes from the same sources: the sum over sources
    of the smaller of the two shares. Of equal ones the newest comes first.

    Raises
    ------
    Unknown
        When there is no such lot.
    """
    lot = lot_of(actor, code)
    wanted = _shares(_parts(Q(lot_id=lot.pk)))[lot.made_by_id]
    runs = list(
        Run.objects.filter(
            workshop_id=actor.workshop_id, stage="extrude", state=Run.CLOSED, polymer=lot.polymer
        )
        .exclude(pk=lot.made_by_id)
        .order_by("-ended_at", "-pk")[:MOST_RUNS]
    )
    shares = _shares(_parts(Q(lot__made_by__in=runs, lot__role=PRODUCT)))
    ranked = sorted(runs, key=lambda run: -_likeness(wanted, shares[run.pk]))[:SHOWN]
    ids = [run.pk for run in ranked]
    settings, yields, verdicts = _settings(ids), _yields(ids), _verdicts(ids)
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


def _settings(run_ids: list[int]) -> dict[int, str]:
    declared = stage("extrude")
    last: dict[int, dict[str, str]] = defaultdict(dict)
    rows = RunSetting.objects.filter(run_id__in=run_ids).order_by("happened_at", "pk")
    for run_id, key, value in rows.values_list("run_id", "key", "value"):
        last[run_id][key] = value
    fields = declared.settings if declared else ()
    return {
        run_id: ", ".join(
            f"{field.label} {values[field.key]} {field.unit}".strip()
            for field in fields
            if field.key in values
        )
        for run_id, values in last.items()
    }


def _yields(run_ids: list[int]) -> dict[int, float | None]:
    product = dict(
        Lot.objects.filter(made_by_id__in=run_ids, role=PRODUCT)
        .values_list("made_by_id")
        .order_by()
        .annotate(Sum("made_mg"))
    )
    drawn = Draw.objects.filter(run_id__in=run_ids).exclude(lot__form="purge compound")
    inputs = dict(drawn.values_list("run_id").order_by().annotate(Sum("mass_mg")))
    return {
        run_id: stage_yield_share(product.get(run_id, 0), mass_mg)
        for run_id, mass_mg in inputs.items()
        if mass_mg
    }


def _verdicts(run_ids: list[int]) -> dict[int, tuple[int, int]]:
    """Count spools that printed well and badly; the newest counted verdict of each lot."""
    newest: dict[tuple[int, int], bool] = {}
    rows = Verdict.objects.filter(lot__made_by_id__in=run_ids, state=Verdict.COUNTED)
    for run_id, lot_id, good in rows.order_by("given_at", "pk").values_list(
        "lot__made_by_id", "lot_id", "good"
    ):
        newest[run_id, lot_id] = good
    found: dict[int, tuple[int, int]] = defaultdict(lambda: (0, 0))
    for (run_id, _), good in newest.items():
        yes, no = found[run_id]
        found[run_id] = (yes + good, no + (not good))
    return found
