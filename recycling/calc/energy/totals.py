"""Energies added up, with what they share: figures from one meter err together."""

from collections import defaultdict
from collections.abc import Iterable
from math import fsum, hypot, sqrt

from recycling.calc.balance.coverage import FROM_MEMORY
from shared.measured import RECTANGULAR, Measured, Source

METER_ERROR, RATED_POWER, READINGS = "meter", "rated power", "energy readings"
"""Kinds of sources: a meter's error, how well rated power is known, readings and gaps."""


def meter_of(machine: str) -> Source:
    """Name the error of a machine's meter: a part of its class in all its readings, rectangular."""
    return Source(METER_ERROR, machine, RECTANGULAR)


def rated_of(machine: str) -> Source:
    """Name what is not known of a machine's rated power: one share, itself known to a quarter."""
    return Source(RATED_POWER, machine, freedom=FROM_MEMORY)


def energy_total(parts: Iterable[tuple[Measured, float, Source, float]]) -> Measured:
    """Weighted sum of energies of which some share a common uncertainty.

    Parameters
    ----------
    parts : (energy in kWh with its whole standard uncertainty, the common part of that in kWh,
        the source of error that it is common to, weight). Common parts of one source add up
        linearly, all the rest in squares.

    Returns
    -------
    Measured
        E = Σ w E, u² = Σ w² (u² − u_c²) + Σ over sources (Σ w u_c)², kWh, by source.

    Raises
    ------
    ValueError
        If a common part exceeds the uncertainty that it is a part of.

    Examples
    --------
    >>> meter, other = meter_of("extruder"), rated_of("dryer")
    >>> runs = [(Measured(1.0, 0.1), 0.1, meter, 1.0), (Measured(2.0, 0.2), 0.2, meter, 1.0)]
    >>> round(energy_total(runs).u, 12)
    0.3
    >>> apart = [(Measured(3.0, 0.3), 0.0, meter, 1.0), (Measured(4.0, 0.4), 0.0, other, 1.0)]
    >>> energy_total(apart)
    Measured(value=7.0, u=0.5)

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 and 5.2.2, note 1: correlation of +1 adds linearly.
    """
    values, own = [], []
    common: dict[Source, list[float]] = defaultdict(list)
    for energy, u_common, shared, weight in parts:
        if u_common > energy.u * (1 + 1e-9):
            raise ValueError(f"a common part of {u_common} kWh in {energy.u} kWh")
        values.append(weight * energy.value)
        own.append(weight * sqrt(max(energy.u**2 - u_common**2, 0.0)))
        common[shared].append(weight * u_common)
    found = {shared: fsum(listed) for shared, listed in common.items()}
    return Measured.of(fsum(values), found | {Source(READINGS, 0): hypot(*own)})
