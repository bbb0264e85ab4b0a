"""Energy of a stage over time: the base load it draws anyway, and the slope with mass."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, sqrt

from recycling.calc.guards import finite, not_negative, some
from shared.measured import Measured


@dataclass(frozen=True)
class BaseLoad:
    """A straight line through a stage's periods.

    base_kwh: energy of a period without product. slope_kwh_per_kg: energy per further kilogram.
    r_squared: share of the variation that the line explains. residual_kwh: standard deviation
    about it. periods: how many points it rests on.
    """

    base_kwh: Measured
    slope_kwh_per_kg: Measured
    r_squared: float
    residual_kwh: float
    periods: int


def base_load(mass_kg: Sequence[float], energy_kwh: Sequence[float]) -> BaseLoad:
    """Fit E = a + b m by least squares over periods of equal length.

    b = S_me / S_mm, a = mean E - b mean m; s² = sum of squared residuals / (n - 2),
    u(b) = s / sqrt(S_mm), u(a) = s sqrt(1/n + mean(m)² / S_mm).

    Parameters
    ----------
    mass_kg : product of each period, kg.
    energy_kwh : energy of each period, kWh.

    Returns
    -------
    BaseLoad
        Base in kWh, slope in kWh/kg, each with its standard uncertainty.

    Raises
    ------
    ValueError
        With fewer than three periods, lists of unequal length, a figure that is negative or not
        finite, or the same mass in every period.

    Examples
    --------
    >>> fit = base_load([1, 2, 3, 4], [2.0, 2.9, 4.1, 5.0])
    >>> round(fit.slope_kwh_per_kg.value, 9), round(fit.base_kwh.value, 9)
    (1.02, 0.95)

    References
    ----------
    .. [1] ISO 50006:2014: energy baseline as base load and a relevant variable.
    .. [2] NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1: linear least squares.
    """
    some("periods", mass_kg, 3)
    if len(mass_kg) != len(energy_kwh):
        raise ValueError(f"{len(mass_kg)} masses but {len(energy_kwh)} energies")
    for mass, kwh in zip(mass_kg, energy_kwh, strict=True):
        not_negative("mass_kg", mass)
        not_negative("energy_kwh", finite("energy_kwh", kwh))
    n = len(mass_kg)
    mean_kg, mean_kwh = fsum(mass_kg) / n, fsum(energy_kwh) / n
    off_kg = [mass - mean_kg for mass in mass_kg]
    off_kwh = [kwh - mean_kwh for kwh in energy_kwh]
    s_mm, s_ee = fsum(m * m for m in off_kg), fsum(e * e for e in off_kwh)
    if max(mass_kg) == min(mass_kg):
        raise ValueError("the mass is the same in every period: base and slope cannot be told")
    slope = fsum(m * e for m, e in zip(off_kg, off_kwh, strict=True)) / s_mm
    s_rr = fsum((e - slope * m) ** 2 for m, e in zip(off_kg, off_kwh, strict=True))
    residual = sqrt(s_rr / (n - 2))
    return BaseLoad(
        Measured(mean_kwh - slope * mean_kg, residual * sqrt(1 / n + mean_kg**2 / s_mm)),
        Measured(slope, residual / sqrt(s_mm)),
        1 - s_rr / s_ee if s_ee else 1.0,
        residual,
        n,
    )
