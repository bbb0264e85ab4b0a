"""Filament: length and mass, diameter against its tolerance, ovality, metres left.

Sources
-------
.. [1] Geometry of a round thread: mass per length = ρ·π·d²/4. With ρ in g/cm³ and d in mm the
   result is in g/m, for 1 mm² · 1 m = 1 cm³.
.. [2] JCGM 100:2008 (GUM), 5.1.2: propagation of independent uncertainties.
.. [3] NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.6: sample standard deviation.

Ovality as the difference of two axes over their mean is common practice.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from recycling.calc.guards import not_negative, positive, some
from shared.measured import Measured, combined


@dataclass(frozen=True, slots=True)
class DiameterCheck:
    """Diameter readings of a spool against its tolerance; diameters in mm, flow in percent.

    Attributes
    ----------
    readings : int
        How many there are.
    mean_mm, smallest_mm, largest_mm : float
        Of the readings.
    sd_mm : float or None
        Sample standard deviation; None for a single reading.
    outside : tuple of int
        Places, from 0, of the readings outside the tolerance.
    least_flow_percent, most_flow_percent : float
        Flow errors at the smallest and at the largest diameter.
    within : bool
        Whether all readings are within the tolerance.
    """

    readings: int
    mean_mm: float
    sd_mm: float | None
    smallest_mm: float
    largest_mm: float
    outside: tuple[int, ...]
    least_flow_percent: float
    most_flow_percent: float
    within: bool


def linear_density_g_per_m(diameter_mm: float, density_g_per_cm3: float) -> float:
    """Mass of one metre, g/m: ρ·π·d²/4 [1]_.

    Diameter in mm, density in g/cm³; raises ValueError unless both are positive.

    Examples
    --------
    >>> round(linear_density_g_per_m(1.75, 1.24), 4)
    2.9825
    """
    positive("diameter_mm", diameter_mm)
    return positive("density_g_per_cm3", density_g_per_cm3) * math.pi * diameter_mm**2 / 4


def length_m(mass_g: float, diameter_mm: float, density_g_per_cm3: float) -> float:
    """Length of a mass of filament, m [1]_.

    Mass in g, diameter in mm, density in g/cm³. Raises ValueError for a negative mass, or a
    diameter or density that is not positive.

    Examples
    --------
    >>> round(length_m(1000, 1.75, 1.24), 2)
    335.28
    """
    return not_negative("mass_g", mass_g) / linear_density_g_per_m(diameter_mm, density_g_per_cm3)


def mass_g(length_m: float, diameter_mm: float, density_g_per_cm3: float) -> float:
    """Mass of a length of filament, g; the other way round than `length_m` [1]_.

    Length in m, diameter in mm, density in g/cm³. Raises ValueError for a negative length, or
    a diameter or density that is not positive.

    Examples
    --------
    >>> round(mass_g(335.28, 1.75, 1.24), 1)
    1000.0
    """
    return not_negative("length_m", length_m) * linear_density_g_per_m(
        diameter_mm, density_g_per_cm3
    )


def implied_diameter_mm(mass_g: float, length_m: float, density_g_per_cm3: float) -> float:
    """Mean diameter that a net mass and a measured length imply, mm: √(4m/(πρL)) [1]_.

    Mass in g, length in m, density in g/cm³, all positive, else ValueError. Far from what the
    gauge reads, one of mass, length and density is wrong.

    Examples
    --------
    >>> round(implied_diameter_mm(1000, 335.28, 1.24), 3)
    1.75
    """
    area_mm2 = positive("mass_g", mass_g) / (
        positive("density_g_per_cm3", density_g_per_cm3) * positive("length_m", length_m)
    )
    return math.sqrt(4 * area_mm2 / math.pi)


def metres_left(
    gross_g: Measured, tare_g: Measured, diameter_mm: Measured, density_g_per_cm3: Measured
) -> Measured:
    """Length left on a spool that was weighed.

    Parameters
    ----------
    gross_g, tare_g : Measured
        Spool with filament, and the empty spool, g.
    diameter_mm, density_g_per_cm3 : Measured
        Mean diameter, mm, and density, g/cm³, both positive.

    Returns
    -------
    Measured
        L = 4(gross − tare)/(πρd²), m; relative parts u_m/m, u_ρ/ρ and 2·u_d/d combine as
        squares [1]_ [2]_.

    Raises
    ------
    ValueError
        If the empty spool outweighs the full one, or a figure is out of range.

    Examples
    --------
    >>> left = metres_left(Measured(450, 1), Measured(200, 1), Measured(1.75), Measured(1.24))
    >>> round(left.value, 2), round(left.u, 2)
    (83.82, 0.47)
    """
    not_negative("tare_g", tare_g.value)
    if tare_g.value > gross_g.value:
        raise ValueError(f"the empty spool ({tare_g.value} g) outweighs it all ({gross_g.value} g)")
    net_g = gross_g - tare_g
    d, rho = diameter_mm, density_g_per_cm3
    per_metre = linear_density_g_per_m(d.value, rho.value)
    terms = ((d, 2 * per_metre / d.value), (rho, per_metre / rho.value))
    return net_g / combined(per_metre, terms)


def flow_error_percent(actual_mm: float, nominal_mm: float) -> float:
    """Error of the flow of a printer that counts on the nominal diameter, percent.

    100·((d/d_nominal)² − 1), for the area goes with the square [1]_. Diameters in mm, both
    positive, else ValueError.

    Examples
    --------
    >>> round(flow_error_percent(1.80, 1.75), 3), round(flow_error_percent(1.70, 1.75), 3)
    (5.796, -5.633)
    """
    ratio = positive("actual_mm", actual_mm) / positive("nominal_mm", nominal_mm)
    return 100 * (ratio**2 - 1)


def ovality_percent(axis_a_mm: float, axis_b_mm: float) -> float:
    """Ovality from two axes at right angles, percent: 100·|a − b|/((a + b)/2).

    Axes in mm, both positive, else ValueError.

    Examples
    --------
    >>> round(ovality_percent(1.78, 1.72), 2)
    3.43
    """
    a, b = positive("axis_a_mm", axis_a_mm), positive("axis_b_mm", axis_b_mm)
    return 100 * abs(a - b) / ((a + b) / 2)


def diameter_check(
    readings_mm: Sequence[float], nominal_mm: float, tolerance_mm: float
) -> DiameterCheck:
    """Hold diameter readings against nominal ± tolerance.

    Parameters
    ----------
    readings_mm : sequence of float
        Diameters in the order read, mm, at least one, each positive.
    nominal_mm, tolerance_mm : float
        Nominal diameter, positive, and tolerance, not negative, mm.

    Returns
    -------
    DiameterCheck
        A reading on the limit is within it. Standard deviation of the sample [3]_.

    Raises
    ------
    ValueError
        For no readings or a figure out of range.

    Examples
    --------
    >>> diameter_check([1.74, 1.75, 1.81], nominal_mm=1.75, tolerance_mm=0.05).outside
    (2,)
    """
    positive("nominal_mm", nominal_mm)
    not_negative("tolerance_mm", tolerance_mm)
    readings = [positive("readings_mm", d) for d in some("readings_mm", readings_mm)]
    n, mean = len(readings), math.fsum(readings) / len(readings)
    sd = math.sqrt(math.fsum((d - mean) ** 2 for d in readings) / (n - 1)) if n > 1 else None
    # 1.80 - 1.75 is a hair above 0.05 in binary; a nanometre settles it
    outside = tuple(i for i, d in enumerate(readings) if abs(d - nominal_mm) > tolerance_mm + 1e-6)
    low, high = min(readings), max(readings)
    return DiameterCheck(
        readings=n,
        mean_mm=mean,
        sd_mm=sd,
        smallest_mm=low,
        largest_mm=high,
        outside=outside,
        least_flow_percent=flow_error_percent(low, nominal_mm),
        most_flow_percent=flow_error_percent(high, nominal_mm),
        within=not outside,
    )
