"""Carbon and cost of energy, only from factors that the workshop entered with their source."""

from dataclasses import dataclass
from datetime import date

from recycling.calc.guards import finite, not_negative
from shared.measured import Measured

KG_PER_LB = 0.45359237
KG_PER_KWH = {
    "kg/kWh": 1.0,
    "g/kWh": 1e-3,
    "kg/MWh": 1e-3,
    "t/MWh": 1.0,
    "lb/kWh": KG_PER_LB,
    "lb/MWh": KG_PER_LB / 1000,
}
"""Kilograms of CO2-equivalent for each kilowatt-hour in one of the unit; pound exact [1]_.

.. [1] NIST Special Publication 811 (2008), appendix B.8: 1 lb = 0.453 592 37 kg exactly.
"""


@dataclass(frozen=True)
class CarbonFactor:
    """Carbon of a unit of energy as a publisher states it; nothing may be left out.

    value, unit: as published, the unit one of `KG_PER_KWH`. scope: what is counted, such as
    location-based generation. region, year: what it holds for. publisher, read_date: where and
    when it was read. u_value: its standard uncertainty, zero where none is published.
    """

    value: float
    unit: str
    scope: str
    region: str
    year: int
    publisher: str
    read_date: date
    u_value: float = 0.0

    def __post_init__(self) -> None:
        not_negative("the factor", self.value)
        not_negative("the factor's uncertainty", self.u_value)
        if self.unit not in KG_PER_KWH:
            raise ValueError(f"{self.unit} is not one of {', '.join(KG_PER_KWH)}")
        for name in ("scope", "region", "publisher"):
            if not getattr(self, name).strip():
                raise ValueError(f"a carbon factor needs its {name}")
        if not 1900 <= self.year <= self.read_date.year:
            raise ValueError(f"a factor read in {self.read_date.year} cannot be for {self.year}")


@dataclass(frozen=True)
class Tariff:
    """Price of energy as entered. price_per_kwh: in `currency`; source: where it stands."""

    price_per_kwh: float
    currency: str
    source: str
    read_date: date

    def __post_init__(self) -> None:
        finite("price_per_kwh", self.price_per_kwh)
        if not (len(self.currency) == 3 and self.currency.isascii() and self.currency.isupper()):
            raise ValueError(f"{self.currency!r} is not a currency code of three letters")
        if not self.source.strip():
            raise ValueError("a price needs its source")


def kg_per_kwh(factor: CarbonFactor) -> Measured:
    """Carbon factor in kg/kWh, with its standard uncertainty.

    Parameters
    ----------
    factor : the factor as published.

    Returns
    -------
    Measured
        kg CO2-equivalent per kWh.

    Raises
    ------
    ValueError
        Never for a factor that could be made.

    Examples
    --------
    >>> read = date(2024, 5, 1)
    >>> grid = CarbonFactor(823.1, "lb/MWh", "generation", "US", 2022, "a register", read)
    >>> round(kg_per_kwh(grid).value, 6)
    0.373352

    References
    ----------
    .. [1] NIST Special Publication 811 (2008), appendix B.8.
    """
    size = KG_PER_KWH[factor.unit]
    return Measured(factor.value * size, factor.u_value * size)


def carbon_kg(energy_kwh: Measured, factor: CarbonFactor) -> Measured:
    """Carbon of an energy: E × factor, with its standard uncertainty.

    Parameters
    ----------
    energy_kwh : energy, kWh.
    factor : the factor as published.

    Returns
    -------
    Measured
        kg CO2-equivalent.

    Raises
    ------
    ValueError
        If the energy is negative.

    Examples
    --------
    >>> read = date(2025, 1, 2)
    >>> grid = CarbonFactor(0.4, "kg/kWh", "generation", "north", 2024, "a register", read)
    >>> carbon_kg(Measured(10.0), grid).value
    4.0

    References
    ----------
    .. [1] ISO 14064-1:2018, 6.2: activity data times emission factor.
    """
    not_negative("energy_kwh", energy_kwh.value)
    return energy_kwh * kg_per_kwh(factor)


def cost(energy_kwh: Measured, tariff: Tariff) -> Measured:
    """Cost of an energy: E × price, in the tariff's currency.

    Parameters
    ----------
    energy_kwh : energy, kWh.
    tariff : the price as entered.

    Returns
    -------
    Measured
        Cost in the tariff's currency, with the uncertainty of the energy.

    Raises
    ------
    ValueError
        If the energy is negative.

    Examples
    --------
    >>> cost(Measured(10.0, 0.5), Tariff(0.3, "EUR", "bill", date(2025, 1, 2)))
    Measured(value=3.0, u=0.15)

    References
    ----------
    .. [1] Closed form: a product.
    """
    not_negative("energy_kwh", energy_kwh.value)
    return energy_kwh * Measured(tariff.price_per_kwh)
