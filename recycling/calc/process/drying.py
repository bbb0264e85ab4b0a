"""Drying: time at temperature, time open, and estimates of moisture, viscosity loss and heat.

Diffusivity, Mark-Houwink constants and starting moisture are settings that the caller hands
in, marked there as from memory or with their source; none is buried here. What is named an
estimate is one, and its page says so.

Sources
-------
.. [1] J. Crank: The Mathematics of Diffusion, 2nd ed., Oxford University Press 1975, 4.3.2:
   plane sheet, uniform start, constant surface, p. 48; the short-time form is from memory and
   held against the series by a test.
.. [2] Stoichiometry of hydrolysis: each molecule of water cuts one ester bond and so makes one
   chain more, 1/Mn′ = 1/Mn + w/M(water); M(water) = 18.015 g/mol (IUPAC).
.. [3] Mark-Houwink relation: intrinsic viscosity = K·M^a (IUPAC Compendium of Chemical
   Terminology).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from recycling.calc.guards import finite, not_negative, positive, some

MOLAR_MASS_WATER_G_PER_MOL = 18.015
GAS_CONSTANT_J_PER_MOL_K = 8.314462618
ZERO_CELSIUS_K = 273.15


@dataclass(frozen=True, slots=True)
class Recipe:
    """A workshop's drying recipe for a polymer.

    Attributes
    ----------
    least_c, most_c : float
        Temperatures between which the time counts, °C.
    time_h : float
        Time that is needed there, h, positive.
    """

    least_c: float
    most_c: float
    time_h: float

    def __post_init__(self) -> None:
        if finite("most_c", self.most_c) < finite("least_c", self.least_c):
            raise ValueError("the recipe's highest temperature is below its lowest")
        positive("time_h", self.time_h)


@dataclass(frozen=True, slots=True)
class DryingCheck:
    """Time at temperature against the recipe, all in hours; and whether it was enough.

    `too_hot_h` counts apart: above the recipe's window flake sticks together and degrades.
    """

    at_temperature_h: float
    missing_h: float
    too_hot_h: float
    dry_enough: bool


@dataclass(frozen=True, slots=True)
class OpenCheck:
    """Time open to the air against its limit, hours; what is left of it; whether it was kept."""

    open_h: float
    left_h: float
    within: bool


def drying_check(log: Sequence[tuple[float, float]], recipe: Recipe) -> DryingCheck:
    """Hold a dryer's log against the recipe.

    Parameters
    ----------
    log : sequence of (hours, temperature)
        Pieces of time, h, not negative, and the real temperature in each, °C.
    recipe : Recipe
        What the workshop asks for.

    Returns
    -------
    DryingCheck
        Time between the recipe's temperatures, what is missing, and the time above them.

    Raises
    ------
    ValueError
        For an empty log, a negative time, or a temperature that is not finite.

    Examples
    --------
    >>> drying_check([(0.5, 90.0), (4.0, 140.0)], Recipe(135.0, 150.0, 5.0)).missing_h
    1.0
    """
    for hours, temperature_c in some("the dryer's log", log):
        not_negative("hours", hours)
        finite("temperature_c", temperature_c)
    at_h = math.fsum(h for h, t in log if recipe.least_c <= t <= recipe.most_c)
    hot_h = math.fsum(h for h, t in log if t > recipe.most_c)
    missing_h = max(recipe.time_h - at_h, 0.0)
    return DryingCheck(at_h, missing_h, hot_h, missing_h == 0)


def ready_in_h(log: Sequence[tuple[float, float]], recipe: Recipe) -> float | None:
    """Say in how many hours a drying is done if the last logged temperature stays.

    Parameters
    ----------
    log : sequence of (hours, temperature)
        Pieces of time until now, h, not negative, and the real temperature in each, °C.
    recipe : Recipe
        What the workshop asks for.

    Returns
    -------
    float or None
        What is missing of the time at temperature, 0 once it is done; None while the last
        temperature is not one at which the time counts, so that no end can be promised.

    Raises
    ------
    ValueError
        For an empty log, a negative time, or a temperature that is not finite.

    Examples
    --------
    >>> ready_in_h([(0.5, 90.0), (3.0, 140.0)], Recipe(135.0, 150.0, 5.0))
    2.0
    >>> ready_in_h([(3.0, 140.0), (0.5, 90.0)], Recipe(135.0, 150.0, 5.0)) is None
    True
    """
    missing_h = drying_check(log, recipe).missing_h
    counts = recipe.least_c <= log[-1][1] <= recipe.most_c
    return missing_h if counts or missing_h == 0 else None


def open_check(open_h: Sequence[float], limit_h: float) -> OpenCheck:
    """Hold the time open to the air, from the end of drying to the feed, against its limit.

    Parameters
    ----------
    open_h : sequence of float
        Each stretch of time not sealed, h, not negative; none where it never was open.
    limit_h : float
        Longest time allowed in all, h, not negative.

    Returns
    -------
    OpenCheck
        Total, what is left (negative once exceeded), and whether the limit was kept.

    Raises
    ------
    ValueError
        For a negative time.

    Examples
    --------
    >>> open_check([0.25, 0.5], 0.5)
    OpenCheck(open_h=0.75, left_h=-0.25, within=False)
    """
    total_h = math.fsum(not_negative("open_h", h) for h in open_h)
    left_h = not_negative("limit_h", limit_h) - total_h
    return OpenCheck(total_h, left_h, left_h >= 0)


def slab_remaining(fourier: float) -> float:
    """Share of the removable moisture still in a slab that dries from both faces.

    Parameters
    ----------
    fourier : float
        Fourier number D·t/l², l half the thickness; not negative.

    Returns
    -------
    float
        8/π² · Σ (2n+1)⁻² · e^(−(2n+1)²π²Fo/4); below Fo = 0.05 the short-time form
        1 − 2√(Fo/π), which there agrees with it to ten digits [1]_.

    Raises
    ------
    ValueError
        For a negative number.

    Examples
    --------
    >>> round(slab_remaining(0.2), 5), round(slab_remaining(1.0), 5)
    (0.49591, 0.06874)
    """
    if not_negative("fourier", fourier) < 0.05:
        return 1 - 2 * math.sqrt(fourier / math.pi)
    odd = range(1, 40, 2)
    terms = (math.exp(-((n * math.pi / 2) ** 2) * fourier) / n**2 for n in odd)
    return 8 / math.pi**2 * math.fsum(terms)


def diffusivity_m2_per_s(
    temperature_c: float, factor_m2_per_s: float, activation_kj_per_mol: float
) -> float:
    """Diffusivity of water in a polymer at a temperature, m²/s: D₀·e^(−E/RT).

    Temperature in °C above absolute zero, D₀ in m²/s and E in kJ/mol, settings; all positive
    but the temperature, else ValueError.

    Examples
    --------
    >>> f"{diffusivity_m2_per_s(140.0, 1e-6, 40.0):.2e}"
    '8.77e-12'
    """
    kelvin = positive(
        "absolute temperature", finite("temperature_c", temperature_c) + ZERO_CELSIUS_K
    )
    energy_j = 1000 * positive("activation_kj_per_mol", activation_kj_per_mol)
    factor = positive("factor_m2_per_s", factor_m2_per_s)
    return factor * math.exp(-energy_j / (GAS_CONSTANT_J_PER_MOL_K * kelvin))


def remaining_moisture(
    start: float, balance: float, thickness_mm: float, diffusivity_m2_s: float, time_h: float
) -> float:
    """Estimate the moisture left in flake after a time in the dryer.

    Parameters
    ----------
    start, balance : float
        Moisture at the start, and that which the dryer's air would leave in the end: shares
        on one basis, 0 ≤ balance ≤ start < 1.
    thickness_mm : float
        Thickness of the flake, mm.
    diffusivity_m2_s : float
        Diffusivity of water at the drying temperature, m²/s.
    time_h : float
        Time there, h, not negative.

    Returns
    -------
    float
        balance + (start − balance)·`slab_remaining`(D·t/(thickness/2)²), a share. An estimate
        only: faces well swept by air, no edges, one diffusivity [1]_.

    Raises
    ------
    ValueError
        If a figure is out of range.

    Examples
    --------
    >>> round(remaining_moisture(0.003, 0.0, 0.4, 1e-11, 1.0), 6)
    0.000264
    """
    if not 0 <= finite("balance", balance) <= finite("start", start) < 1:
        raise ValueError(f"moisture must go 0 ≤ balance ≤ start < 1, not {balance!r}, {start!r}")
    half_m = positive("thickness_mm", thickness_mm) / 2000
    seconds = 3600 * not_negative("time_h", time_h)
    fourier = positive("diffusivity_m2_s", diffusivity_m2_s) * seconds / half_m**2
    return balance + (start - balance) * slab_remaining(fourier)


def molar_mass_after_hydrolysis(molar_mass_g_per_mol: float, moisture: float) -> float:
    """Number-average molar mass if all the water there is cuts chains, g/mol.

    1/Mn′ = 1/Mn + w/18.015 with w in grams of water per gram of polymer [2]_: a lower bound of
    Mn′. Raises ValueError unless Mn is positive and 0 ≤ w < 1.

    Examples
    --------
    >>> round(molar_mass_after_hydrolysis(20_000.0, 50e-6))
    18948
    """
    if not_negative("moisture", moisture) >= 1:
        raise ValueError(f"moisture is a share from 0 to below 1, not {moisture!r}")
    cuts = moisture / MOLAR_MASS_WATER_G_PER_MOL
    return 1 / (1 / positive("molar_mass_g_per_mol", molar_mass_g_per_mol) + cuts)


def viscosity_loss_at_most(
    viscosity_dl_per_g: float, moisture: float, houwink_k: float, houwink_a: float
) -> float:
    """Upper bound of the intrinsic viscosity that hydrolysis in the melt can cost, dL/g.

    Parameters
    ----------
    viscosity_dl_per_g : float
        Intrinsic viscosity before, dL/g, positive.
    moisture : float
        Water per polymer when it melts, a share, 0 ≤ w < 1.
    houwink_k, houwink_a : float
        K, dL/g, and a of [η] = K·Mn^a: settings, positive.

    Returns
    -------
    float
        [η] − K·Mn′^a with Mn from [η] and Mn′ by `molar_mass_after_hydrolysis` [2]_ [3]_. An
        estimate of the most that can be lost, for only part of the water reacts.

    Raises
    ------
    ValueError
        If a figure is out of range.

    Examples
    --------
    >>> round(viscosity_loss_at_most(0.76, 50e-6, 7.5e-4, 0.68), 3)
    0.036
    """
    k, a = positive("houwink_k", houwink_k), positive("houwink_a", houwink_a)
    before = (positive("viscosity_dl_per_g", viscosity_dl_per_g) / k) ** (1 / a)
    return viscosity_dl_per_g - k * molar_mass_after_hydrolysis(before, moisture) ** a
