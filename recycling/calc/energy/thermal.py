"""The least heat that a stage can do with: heating and melting polymer, drying off water.

A log that shows less than this is not a good machine but an incomplete log.
"""

from dataclasses import dataclass
from math import exp

from recycling.calc.guards import finite, not_negative, share

KJ_PER_KWH = 3600.0
TRIPLE_POINT_C, CRITICAL_C = 0.01, 373.946
CRITICAL_K, CRITICAL_KPA, CRITICAL_KG_M3 = 647.096, 22_064.0, 322.0
PRESSURE_TERMS = (
    (-7.85951783, 1),
    (1.84408259, 1.5),
    (-11.7866497, 3),
    (22.6807411, 3.5),
    (-15.9618719, 4),
    (1.80122502, 7.5),
)
LIQUID_TERMS = (
    (1.99274064, 1 / 3),
    (1.09965342, 2 / 3),
    (-0.510839303, 5 / 3),
    (-1.75493479, 16 / 3),
    (-45.5170352, 43 / 3),
    (-6.74694450e5, 110 / 3),
)
VAPOUR_TERMS = (
    (-2.03150240, 2 / 6),
    (-2.68302940, 4 / 6),
    (-5.38626492, 8 / 6),
    (-17.2991605, 18 / 6),
    (-44.7586581, 37 / 6),
    (-63.9201063, 71 / 6),
)


@dataclass(frozen=True)
class HeatProperties:
    """Heats of a polymer, each a setting with its source.

    solid_kj_per_kg_k, melt_kj_per_kg_k: specific heats. melting_c: where it melts.
    fusion_kj_per_kg: heat of fusion of crystals. crystallinity: share of crystals, 0 to 1.
    source: where they stand.
    """

    solid_kj_per_kg_k: float
    melt_kj_per_kg_k: float
    melting_c: float
    fusion_kj_per_kg: float
    crystallinity: float
    source: str

    def __post_init__(self) -> None:
        finite("melting_c", self.melting_c)
        for name in ("solid_kj_per_kg_k", "melt_kj_per_kg_k", "fusion_kj_per_kg"):
            not_negative(name, getattr(self, name))
        share("crystallinity", self.crystallinity)
        if not self.source.strip():
            raise ValueError("heats of a polymer need their source")


@dataclass(frozen=True)
class ThermalCheck:
    """Logged energy against the least. missing_kwh: how far it falls short, zero if it does not."""

    energy_kwh: float
    minimum_kwh: float

    @property
    def is_incomplete(self) -> bool:
        """Whether the log shows less than heat alone must have taken."""
        return self.energy_kwh < self.minimum_kwh

    @property
    def missing_kwh(self) -> float:
        """What the log must at least have missed, kWh."""
        return max(0.0, self.minimum_kwh - self.energy_kwh)


def polymer_heat_kwh_per_kg(heats: HeatProperties, from_c: float, to_c: float) -> float:
    """Heat to bring a kilogram of polymer from one temperature to another, melting on the way.

    q = c_s (min(T2, Tm) - T1) + c_m (T2 - Tm) + x dH, the last two only when Tm is passed.

    Parameters
    ----------
    heats : specific heats, melting point, heat of fusion, crystallinity.
    from_c, to_c : temperatures, °C.

    Returns
    -------
    float
        kWh/kg.

    Raises
    ------
    ValueError
        If the second temperature is below the first, or one is not finite.

    Examples
    --------
    >>> pet = HeatProperties(1.4, 1.9, 250.0, 140.0, 0.35, "from memory")
    >>> round(polymer_heat_kwh_per_kg(pet, 20, 270), 2)
    0.11

    References
    ----------
    .. [1] Closed form: sensible and latent heat; the heats of a polymer are a workshop's setting.
    """
    if finite("to_c", to_c) < finite("from_c", from_c):
        raise ValueError(f"heating from {from_c} °C to {to_c} °C runs down")
    solid_k = max(0.0, min(to_c, heats.melting_c) - from_c)
    melt_k = max(0.0, to_c - max(from_c, heats.melting_c))
    melts = from_c < heats.melting_c <= to_c
    fusion = heats.crystallinity * heats.fusion_kj_per_kg if melts else 0.0
    return (
        heats.solid_kj_per_kg_k * solid_k + heats.melt_kj_per_kg_k * melt_k + fusion
    ) / KJ_PER_KWH


def heat_of_vaporisation_kj_per_kg(temperature_c: float) -> float:
    """Heat to turn a kilogram of water at saturation into steam of the same temperature.

    By Clausius and Clapeyron, r = T (1/rho'' - 1/rho') dp/dT, with saturation pressure and both
    densities as functions of 1 - T/Tc. Within 0.01 % of IAPWS-IF97 from 20 to 200 °C.

    Parameters
    ----------
    temperature_c : from 0.01 up to, not including, 373.946 °C.

    Returns
    -------
    float
        kJ/kg.

    Raises
    ------
    ValueError
        If the temperature is outside that range.

    Examples
    --------
    >>> round(heat_of_vaporisation_kj_per_kg(100)), round(heat_of_vaporisation_kj_per_kg(25))
    (2257, 2442)

    References
    ----------
    .. [1] IAPWS SR1-86(1992), Saturation properties of ordinary water substance.
    """
    if not TRIPLE_POINT_C <= finite("temperature_c", temperature_c) < CRITICAL_C:
        raise ValueError(f"no liquid water beside steam at {temperature_c} °C")
    kelvin = temperature_c + 273.15
    tau = 1 - kelvin / CRITICAL_K
    logarithm = sum(a * tau**n for a, n in PRESSURE_TERMS) * CRITICAL_K / kelvin
    pressure_kpa = CRITICAL_KPA * exp(logarithm)
    slope = sum(a * n * tau ** (n - 1) for a, n in PRESSURE_TERMS)
    kpa_per_k = -pressure_kpa / kelvin * (logarithm + slope)
    liquid = CRITICAL_KG_M3 * (1 + sum(a * tau**n for a, n in LIQUID_TERMS))
    vapour = CRITICAL_KG_M3 * exp(sum(a * tau**n for a, n in VAPOUR_TERMS))
    return kelvin * (1 / vapour - 1 / liquid) * kpa_per_k


def water_heat_kwh_per_kg(from_c: float, to_c: float) -> float:
    """Least heat to turn a kilogram of water at one temperature into steam.

    It evaporates no hotter than the dryer and no hotter than 100 °C: c (T - T1) + r(T) with
    T = min(to_c, 100) and c = 4.18 kJ/(kg K).

    Parameters
    ----------
    from_c : temperature of the wet material, °C, above 0.
    to_c : temperature of the dryer, °C.

    Returns
    -------
    float
        kWh/kg.

    Raises
    ------
    ValueError
        If the dryer is colder than the material, or the water would be ice or beyond critical.

    Examples
    --------
    >>> round(water_heat_kwh_per_kg(20, 140), 3)
    0.72

    References
    ----------
    .. [1] IAPWS SR1-86(1992); 4.18 kJ/(kg K) is liquid water's mean below 100 °C by
       IAPWS-IF97, to which a test holds it.
    """
    if finite("to_c", to_c) < finite("from_c", from_c):
        raise ValueError(f"heating from {from_c} °C to {to_c} °C runs down")
    boiling_c = max(from_c, min(to_c, 100.0))
    return (4.18 * (boiling_c - from_c) + heat_of_vaporisation_kj_per_kg(boiling_c)) / KJ_PER_KWH


def thermal_check(
    energy_kwh: float,
    dry_mass_kg: float,
    heats: HeatProperties,
    from_c: float,
    to_c: float,
    water_mass_kg: float = 0.0,
) -> ThermalCheck:
    """Hold a logged energy against the least that heating, melting and drying take.

    Parameters
    ----------
    energy_kwh : as logged, kWh.
    dry_mass_kg : dry polymer heated, kg.
    heats : its heats.
    from_c, to_c : temperatures, °C.
    water_mass_kg : water driven off, kg.

    Returns
    -------
    ThermalCheck
        Logged and least energy in kWh, and whether the log is incomplete.

    Raises
    ------
    ValueError
        If energy or a mass is negative or not finite, or the temperature runs down.

    Examples
    --------
    >>> pet = HeatProperties(1.4, 1.9, 250.0, 140.0, 0.35, "from memory")
    >>> thermal_check(0.05, 1.0, pet, 20, 270).is_incomplete
    True

    References
    ----------
    .. [1] First law of thermodynamics; heats as in the two functions above.
    """
    not_negative("energy_kwh", energy_kwh)
    minimum = not_negative("dry_mass_kg", dry_mass_kg) * polymer_heat_kwh_per_kg(
        heats, from_c, to_c
    )
    if not_negative("water_mass_kg", water_mass_kg):
        minimum += water_mass_kg * water_heat_kwh_per_kg(from_c, to_c)
    return ThermalCheck(energy_kwh, minimum)
