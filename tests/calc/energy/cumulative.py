"""Energy carried from lot to lot, summed forward: what the adjoint is held against."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import fsum

from recycling.calc.energy.sharing import RunEnergy, _drawn, shared_by_mass
from recycling.calc.guards import not_negative
from recycling.calc.keys import Key


@dataclass(frozen=True)
class CumulativeEnergy:
    """Energy carried. lot_kwh: by each lot as made; ended_kwh: by runs that loaded nothing."""

    lot_kwh: Mapping[Key, float]
    ended_kwh: float


def cumulative_energy(
    runs: Iterable[RunEnergy],
    origin_mg: Mapping[Key, int],
    origin_kwh: Mapping[Key, float] | None = None,
) -> CumulativeEnergy:
    """Energy that each lot carries: what its inputs carried, plus the run's own.

    A run carries E + sum over its inputs of e_k d_k / m_k (lot k made with mass m_k and energy
    e_k, d_k drawn). All of it goes to the loaded outputs by mass, none to waste and losses.
    Where a run loads nothing (a dispatch, a discard) what it carries ends there.

    Parameters
    ----------
    runs : in time order: a lot is made before it is drawn.
    origin_mg : mass of lots that no run made, mg.
    origin_kwh : energy that such lots came with, kWh; zero where none is named.

    Returns
    -------
    CumulativeEnergy
        kWh by lot as made, and the energy that ended.

    Raises
    ------
    ValueError
        If a lot is drawn before it is made or beyond its mass, made twice, comes with energy but
        without mass, or a figure is negative.

    Examples
    --------
    >>> shred = RunEnergy(1.0, {"bottles": 100}, {"flake": 80}, {"fines": 15})
    >>> melt = RunEnergy(2.0, {"flake": 40}, {"spool": 38})
    >>> cumulative_energy([shred, melt], {"bottles": 100}).lot_kwh["spool"]
    2.5

    References
    ----------
    .. [1] ISO 14044:2006, 4.3.4.2: allocation by a physical relationship, here mass.
    """
    made_mg, carried = _brought(origin_mg, origin_kwh or {})
    left_mg, ended = dict(made_mg), []
    for run in runs:
        inputs = [_drawn(lot, mg, made_mg, left_mg, carried) for lot, mg in run.drawn_mg.items()]
        total_kwh = not_negative("energy_kwh", run.energy_kwh) + fsum(inputs)
        for outputs in (run.loaded_mg, run.waste_mg):
            for lot, mass in outputs.items():
                if lot in made_mg:
                    raise ValueError(f"lot {lot} is made twice")
                made_mg[lot] = left_mg[lot] = not_negative(f"mass of {lot}", mass)
        carried.update(dict.fromkeys(run.waste_mg, 0.0))
        if sum(run.loaded_mg.values()):
            carried.update(shared_by_mass(total_kwh, run.loaded_mg))
        else:
            carried.update(dict.fromkeys(run.loaded_mg, 0.0))
            ended.append(total_kwh)
    return CumulativeEnergy(carried, fsum(ended))


def _brought(origin_mg, origin_kwh) -> tuple[dict[Key, int], dict[Key, float]]:
    made_mg = {lot: not_negative(f"mass of {lot}", mass) for lot, mass in origin_mg.items()}
    carried = dict.fromkeys(made_mg, 0.0)
    for lot, kwh in origin_kwh.items():
        if lot not in made_mg:
            raise ValueError(f"lot {lot} comes with energy but no mass")
        carried[lot] = not_negative(f"energy of {lot}", kwh)
    return made_mg, carried
