"""Energies added up, with what they share: figures from one meter err together."""

from collections import defaultdict
from collections.abc import Iterable
from math import fsum, hypot, sqrt

from recycling.calc.keys import Key
from shared.measured import Measured


def energy_total(parts: Iterable[tuple[Measured, float, Key, float]]) -> Measured:
    """Weighted sum of energies of which some share a common uncertainty.

    Parameters
    ----------
    parts : (energy in kWh with its whole standard uncertainty, the common part of that in kWh,
        the log that it is common to, weight). Common parts of one log add up linearly, all the
        rest in squares.

    Returns
    -------
    Measured
        E = Σ w E, u² = Σ w² (u² − u_c²) + Σ over logs (Σ w u_c)², kWh.

    Raises
    ------
    ValueError
        If a common part exceeds the uncertainty that it is a part of.

    Examples
    --------
    >>> runs = [(Measured(1.0, 0.1), 0.1, "meter", 1.0), (Measured(2.0, 0.2), 0.2, "meter", 1.0)]
    >>> round(energy_total(runs).u, 12)
    0.3
    >>> apart = [(Measured(3.0, 0.3), 0.0, "one", 1.0), (Measured(4.0, 0.4), 0.0, "two", 1.0)]
    >>> energy_total(apart)
    Measured(value=7.0, u=0.5)

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 and 5.2.2, note 1: correlation of +1 adds linearly.
    """
    values, own, common = [], [], defaultdict(list)
    for energy, u_common, log, weight in parts:
        if u_common > energy.u * (1 + 1e-9):
            raise ValueError(f"a common part of {u_common} kWh in {energy.u} kWh")
        values.append(weight * energy.value)
        own.append(weight * sqrt(max(energy.u**2 - u_common**2, 0.0)))
        common[log].append(weight * u_common)
    return Measured(fsum(values), hypot(*own, *(fsum(listed) for listed in common.values())))
