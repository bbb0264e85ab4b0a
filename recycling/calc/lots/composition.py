"""Who is in what a run gave: whole milligrams by origin, adding up exactly.

A composition is a dict from origin to mass in mg. Its key ``TRACES`` collects what fell below
the floor: its mass is kept, its origin is not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from recycling.calc.keys import Key
from shared.apportion import apportion

TRACES = None
PPM = 1_000_000

Composition = dict[Key, int]


def take(composition: Mapping[Key, int], mass_mg: int) -> Composition:
    """Share a mass drawn from a lot over the lot's origins.

    Parameters
    ----------
    composition : mapping of origin to int
        Mass by origin in the whole lot, in mg; origins can be put in order.
    mass_mg : int
        Mass drawn, in mg.

    Returns
    -------
    dict of origin to int
        Mass by origin in the draw, in mg; adds up to `mass_mg` exactly. All of it is traces
        where the lot's own composition is empty.

    Notes
    -----
    part = mass · share, rounded by largest remainder (``shared.apportion``). Equal remainders go
    to the lower origin, traces last, so that the parts do not depend on the order of the mapping.

    Examples
    --------
    >>> take({"A": 600, "B": 400}, 10)
    {'A': 6, 'B': 4}
    """
    if not composition or not sum(composition.values()):
        return {TRACES: mass_mg} if mass_mg else {}
    origins = sorted(composition, key=_place)
    parts = apportion(mass_mg, [composition[origin] for origin in origins])
    return {origin: part for origin, part in zip(origins, parts, strict=True) if part}


def _place(origin: Any) -> tuple[bool, Any]:
    return origin is TRACES, 0 if origin is TRACES else origin


def mix(draws: Sequence[Mapping[Key, int]]) -> Composition:
    """Pour draws together.

    Parameters
    ----------
    draws : sequence of mapping of origin to int
        Mass by origin in each draw, in mg.

    Returns
    -------
    dict of origin to int
        Mass by origin in the mixture, in mg.

    Examples
    --------
    >>> mix([{"A": 6, "B": 4}, {"B": 1}])
    {'A': 6, 'B': 5}
    """
    mixture: Composition = {}
    for draw in draws:
        for origin, mass_mg in draw.items():
            mixture[origin] = mixture.get(origin, 0) + mass_mg
    return mixture


def collect_traces(composition: Mapping[Key, int], floor_ppm: int) -> Composition:
    """Collect shares below a floor under ``TRACES``.

    Parameters
    ----------
    composition : mapping of origin to int
        Mass by origin, in mg.
    floor_ppm : int
        Least share that keeps its name, in parts per million of the lot.

    Returns
    -------
    dict of origin to int
        Mass by origin in mg, with the same sum.

    Examples
    --------
    >>> collect_traces({"A": 5_000_000, "B": 4}, 1)
    {'A': 5000000, None: 4}
    """
    whole = sum(composition.values())
    kept: Composition = {}
    traces = 0
    for origin, mass_mg in composition.items():
        if origin is TRACES or mass_mg * PPM < floor_ppm * whole:
            traces += mass_mg
        else:
            kept[origin] = mass_mg
    return kept | ({TRACES: traces} if traces else {})


def well_mixed(
    draws: Sequence[tuple[Mapping[Key, int], int]],
    outputs_mg: Sequence[int],
    floor_ppm: int,
) -> list[Composition]:
    """Compose each output of a run in proportion to the masses drawn.

    Parameters
    ----------
    draws : sequence of (mapping of origin to int, int)
        For each draw the composition of the lot and the mass drawn, in mg.
    outputs_mg : sequence of int, shape (n,)
        Mass of each output, in mg.
    floor_ppm : int
        Least share that keeps its name, in parts per million.

    Returns
    -------
    list of dict of origin to int, shape (n,)
        Composition of each output in mg; each adds up to its mass exactly.

    Notes
    -----
    One perfectly mixed volume: each output has the mean of all draws; ISO 22095:2020 calls such a
    lot segregated or controlled blending by what was mixed.

    Examples
    --------
    >>> well_mixed([({"A": 3, "B": 2}, 2_000), ({"C": 7}, 1_000)], [1_500], 1)
    [{'A': 600, 'B': 400, 'C': 500}]
    """
    mixture = mix([take(composition, mass_mg) for composition, mass_mg in draws])
    return [collect_traces(take(mixture, mass_mg), floor_ppm) for mass_mg in outputs_mg]
