"""The least heat that a run can have taken, from what was logged and the polymer's heats."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from recycling.calc.energy.thermal import HeatProperties, thermal_check
from recycling.queries.energy.work import DRAWN, WATER, RunRow, SaidOfRun
from recycling.queries.setup.parameters import Entered
from recycling.records.setup.practice import MaterialRow
from recycling.stages import declared_of
from recycling.stages.declaration import HEEL

MG_PER_KG = 1_000_000

Minimum = tuple[float, str]


def minima_of(
    wanted: Sequence[RunRow], said: Mapping[int, SaidOfRun], by: Entered
) -> dict[int, Minimum]:
    """Give the least energy of each run that heats a polymer whose heats are known."""
    runs = {run.pk: run for run in wanted if declared_of(run.stage).heats}
    heats, ambient_c = by.materials["heats"], by.practice["ambient_c"].value
    found: dict[int, Minimum] = {}
    for pk, run in runs.items():
        known, to_c = heats.get(run.polymer), _temperature_c(run, said[pk], by)
        mass_mg = said[pk].mass_mg
        made_mg = sum(mg for role, mg in mass_mg.items() if role not in (HEEL, DRAWN, WATER))
        if known is None or to_c is None or to_c <= ambient_c or not made_mg:
            continue
        properties = HeatProperties(**known.values, source=known.source)
        mass_kg, water_kg = made_mg / MG_PER_KG, max(0, mass_mg.get(WATER, 0)) / MG_PER_KG
        check = thermal_check(0.0, mass_kg, properties, ambient_c, to_c, water_kg)
        found[pk] = (check.minimum_kwh, _note(known, mass_kg, ambient_c, to_c, water_kg))
    return found


def _note(heats: MaterialRow, mass_kg: float, from_c: float, to_c: float, water_kg: float) -> str:
    water = f" and driving off {water_kg:.3f} kg of water" if water_kg else ""
    return (
        f"heating {mass_kg:.3f} kg of {heats.polymer} from {from_c:g} to {to_c:g} °C{water};"
        f" heats {heats.source}"
    )


def _temperature_c(run: RunRow, said: SaidOfRun, by: Entered) -> float | None:
    """Give the temperature that a run's material surely reached: the lowest that was logged."""
    stage = declared_of(run.stage)
    logged = [value for key, value in said.temperature_c if key.startswith(stage.heats)]
    if logged:
        return min(logged)
    recipe, window = by.materials["drying"].get(run.polymer), by.windows.get(run.polymer)
    if stage.dries:
        return recipe.values["least_c"] if recipe else None
    return window.low_c if window else None
