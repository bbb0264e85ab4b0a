"""What a run gave, composed well mixed and in feed order, side by side."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace

from recycling.calc.lots.composition import TRACES, Composition
from recycling.calc.lots.feed_order import WELL_MIXED
from recycling.calc.lots.recomposition import queue, recompose
from recycling.models import Composition as Part
from recycling.models import Lot, Run
from recycling.queries.runs.feed_order import logged_runs
from recycling.queries.runs.runs import run_of
from recycling.records.actors import Actor
from recycling.records.balance.known_masses import ModelLot, ModelPart, ModelsCompared
from recycling.stages import stage
from shared.errors import Unknown
from shared.said import say


def models_compared(actor: Actor, code: str) -> ModelsCompared:
    """Compose what a run gave by both models; raises Unknown where its stage has only one."""
    run = run_of(actor, code)
    declared = stage(run.stage)
    if declared is None or not declared.keeps_heel:
        raise Unknown.because(
            "model-wrong", say("What {run} gave is always well mixed.", run=run.code)
        )
    drawn = list(
        run.draws.filter(mass_mg__gt=0)
        .order_by("pk")
        .values_list("lot_id", "mass_mg", "lot__code", "lot__traces_mg")
    )
    draws = tuple((lot_id, mass_mg) for lot_id, mass_mg, _, _ in drawn)
    lots = {lot.pk: lot for lot in run.outputs.order_by("pk")}
    logged = logged_runs([run.pk])[run.pk]
    masses, log = logged.masses, logged.log
    known, names = _known({lot_id: traces_mg for lot_id, _, _, traces_mg in drawn})
    floor_ppm = run.workshop.trace_floor_ppm
    fed = recompose({run.pk: masses}, known, floor_ppm)
    by_then = replace(masses, log=replace(log, in_order=False))
    mixed = recompose({run.pk: by_then}, known, floor_ppm)
    feeds = queue(draws, log)
    codes = {lot_id: code for lot_id, _, code, _ in drawn}
    held = sum(mass_mg for lot_id, mass_mg in draws if lot_id in log.heels)
    left = lots[log.left].made_mg if log.left in lots else 0
    return ModelsCompared(
        run=run.code,
        model=run.composition_model or WELL_MIXED,
        open=run.state == Run.OPEN,
        fed=tuple(codes[lot_id] for lot_id, _ in feeds),
        fed_mg=tuple(mass_mg for _, mass_mg in feeds),
        held_mg=max(held, left),
        lots=tuple(_lot(lots[pk], mixed[pk], fed[pk], names) for pk in fed),
    )


def _known(
    traces_mg: Mapping[int, int],
) -> tuple[dict[int, Composition], dict[int, tuple[str, str]]]:
    """Give the composition of lots, and what their origins are called."""
    known: dict[int, Composition] = defaultdict(dict)
    names: dict[int, tuple[str, str]] = {}
    rows = Part.objects.filter(lot_id__in=list(traces_mg)).order_by("origin_id")
    said = ("origin__code", "origin__source__name", "origin__supplier")
    for row in rows.values_list("lot_id", "origin_id", "mass_mg", *said):
        lot_id, origin_id, mass_mg, code, source, supplier = row
        known[lot_id][origin_id] = mass_mg
        names[origin_id] = (code, source or supplier)
    for lot_id, mass_mg in traces_mg.items():
        if mass_mg:
            known[lot_id][TRACES] = mass_mg
    return known, names


def _lot(
    lot: Lot, mixed: Composition, fed: Composition, names: Mapping[int, tuple[str, str]]
) -> ModelLot:
    parts = [
        ModelPart(*(*names.get(one, ("", "")), mixed.get(one, 0), fed.get(one, 0)))
        for one in mixed.keys() | fed.keys()
    ]
    parts.sort(key=lambda part: (-max(part.well_mixed_mg, part.feed_order_mg), part.origin))
    return ModelLot(lot.code, lot.form, lot.role, lot.made_mg, tuple(parts))
