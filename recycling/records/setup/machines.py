"""What is entered of machines and of their power: hold-up, meter, tariff, factor, with sources."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class BarrelRow:
    """Hold-up of a barrel with its source.

    Attributes
    ----------
    holdup_g, plug_share : float
        Mass of melt in it, and the share of it that moves as a plug.
    tanks : int
        Stirred tanks that stand for the rest.
    source : str
        Where it comes from.
    """

    holdup_g: float
    plug_share: float
    tanks: int
    source: str


@dataclass(frozen=True)
class MeterRow:
    """How sure a machine's energy meter is.

    Attributes
    ----------
    machine_id : int
        Its machine.
    step_kwh : float or None
        Step of its counter; None where it is taken from the readings' last digit.
    class_percent : float or None
        Limit of error, percent of what it counts: 1 for class 1; None where nobody knows it.
    source : str
        Where both stand.
    """

    machine_id: int
    step_kwh: float | None
    class_percent: float | None
    source: str


@dataclass(frozen=True)
class TariffRow:
    """A price of electricity.

    Attributes
    ----------
    id : int
        Its id.
    price_per_kwh : float
        The price.
    currency, source : str
        In what, and where it stands.
    read_date, valid_from : date
        When it was read, and from when it holds.
    """

    id: int
    price_per_kwh: float
    currency: str
    source: str
    read_date: date
    valid_from: date


@dataclass(frozen=True)
class FactorRow:
    """Carbon of a unit of electricity.

    Attributes
    ----------
    id : int
        Its id.
    value : float
        The figure.
    unit, scope, region, publisher : str
        Its unit, what is counted, where it holds, who publishes it.
    year : int
        For which year.
    read_date, valid_from : date
        When it was read, and from when it is used.
    """

    id: int
    value: float
    unit: str
    scope: str
    region: str
    year: int
    publisher: str
    read_date: date
    valid_from: date
