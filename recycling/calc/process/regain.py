"""Regain: the most water that dried flake can take up again while it lies open.

A single flake with both faces in the air is the quickest case; flake in a heap takes up water
more slowly. So every figure here is a bound and is called one. Diffusivity, saturation and
thickness are settings that the caller hands in.

Sources
-------
.. [1] J. Crank: The Mathematics of Diffusion, 2nd ed., Oxford University Press 1975, 4.3.2:
   plane sheet with constant surface; a surface that changes in steps by superposition, 3.3.
.. [2] H. Yasuda and V. Stannett, J. Polym. Sci. 57 (1962) 907-923, and F. Dubelley et al.,
   J. Phys. Chem. B 121 (2017): water in PET goes by Fick's law, in proportion to humidity; the
   figures are from memory and stand with the settings.
"""

import math
from collections.abc import Sequence

from recycling.calc.guards import finite, not_negative, positive, share
from recycling.calc.process.drying import GAS_CONSTANT_J_PER_MOL_K, ZERO_CELSIUS_K, slab_remaining

REFERENCE_C = 25.0
"""Temperature for which a diffusivity is stated, °C."""


def diffusivity_at(
    temperature_c: float, at_25_c_m2_per_s: float, activation_kj_per_mol: float
) -> float:
    """Diffusivity of water at a temperature, from that at 25 °C, m²/s: D·e^(−E/R·(1/T − 1/T₂₅)).

    Temperature in °C above absolute zero, E in kJ/mol; both figures positive, else ValueError.

    Examples
    --------
    >>> f"{diffusivity_at(23.0, 4e-13, 43.0):.2e}"
    '3.56e-13'
    """
    kelvin = positive(
        "absolute temperature", finite("temperature_c", temperature_c) + ZERO_CELSIUS_K
    )
    energy_j = 1000 * positive("activation_kj_per_mol", activation_kj_per_mol)
    apart = 1 / kelvin - 1 / (REFERENCE_C + ZERO_CELSIUS_K)
    return positive("at_25_c_m2_per_s", at_25_c_m2_per_s) * math.exp(
        -energy_j / GAS_CONSTANT_J_PER_MOL_K * apart
    )


def regained(start: float, stretches: Sequence[tuple[float, float]]) -> float:
    """Moisture of a slab open on both faces, after stretches of different humidity.

    Parameters
    ----------
    start : float
        Moisture at the start, a share, 0 ≤ start < 1.
    stretches : sequence of (fourier, balance)
        Fourier number D·t/l² of each stretch, l half the thickness, and the moisture that its
        air would give in the end, a share.

    Returns
    -------
    float
        w₀ + Σ (wₖ − wₖ₋₁)·(1 − R(Fo from the start of k to the end)), w₋₁ = w₀, with R of
        `slab_remaining` [1]_: a share.

    Raises
    ------
    ValueError
        If a figure is out of range.

    Examples
    --------
    >>> round(100 * regained(4e-5, [(0.1, 3e-3)]), 5)
    0.10962
    """
    moisture = before = share("start", start)
    left = math.fsum(not_negative("fourier", fourier) for fourier, _ in stretches)
    for fourier, balance in stretches:
        moisture += (share("balance", balance) - before) * (1 - slab_remaining(max(left, 0.0)))
        before, left = balance, left - fourier
    return moisture


def moisture_at_most(
    start: float,
    open_h: float,
    thickness_mm: float,
    diffusivity_m2_s: float,
    saturation: float,
    humidity: float,
) -> float:
    """Most moisture after a time open to room air: a bound, never below the start.

    Parameters
    ----------
    start, saturation : float
        Moisture before, and in balance with air at 100 % humidity: shares.
    open_h, thickness_mm : float
        Time open, h; thickness of the thinnest flake, mm.
    diffusivity_m2_s : float
        Diffusivity of water at the temperature of the room, m²/s.
    humidity : float
        Relative humidity of the room, a share; the balance is in proportion to it [2]_.

    Returns
    -------
    float
        Moisture by `regained`, a share; what was wetter than the room's balance is not counted
        as dried by it.

    Raises
    ------
    ValueError
        If a figure is out of range.

    Examples
    --------
    >>> round(100 * moisture_at_most(5e-5, 1.0, 0.3, 3.56e-13, 6e-3, 0.5), 3)
    0.084
    """
    half_m = positive("thickness_mm", thickness_mm) / 2000
    seconds = 3600 * not_negative("open_h", open_h)
    fourier = positive("diffusivity_m2_s", diffusivity_m2_s) * seconds / half_m**2
    balance = share("saturation", saturation) * share("humidity", humidity)
    return max(start, regained(start, [(fourier, balance)]))
