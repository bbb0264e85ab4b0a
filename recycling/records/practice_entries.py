"""What is changed of how a workshop works, always with where it comes from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class PracticeEntry:
    """A limit or habit that is changed.

    Attributes
    ----------
    key : str
        Which one.
    value : float
        The new value.
    source : str
        Where it comes from.
    """

    key: str
    value: float
    source: str


@dataclass(frozen=True)
class WindowEntry:
    """A processing window.

    Attributes
    ----------
    material, kind : str
        Of what, and whether it is a "polymer" or a "purge compound".
    low_c, high_c : float
        Its two ends.
    source : str
        Where it comes from.
    """

    material: str
    kind: str
    low_c: float
    high_c: float
    source: str


@dataclass(frozen=True)
class MaterialEntry:
    """A recipe or properties of a polymer.

    Attributes
    ----------
    polymer, kind : str
        Of what, and which set.
    values : mapping of str to float
        The numbers by key.
    source : str
        Where they come from.
    """

    polymer: str
    kind: str
    values: Mapping[str, float]
    source: str


@dataclass(frozen=True)
class MeterEntry:
    """How sure a machine's energy meter is.

    Attributes
    ----------
    machine : int
        Id of the machine.
    step_kwh : float or None
        Step of its counter, kWh; left out, the last digit of its readings.
    class_percent : float or None
        Limit of error in percent of what it counts: 1 for class 1; left out where nobody knows.
    source : str
        Where both stand.
    """

    machine: int
    step_kwh: float | None = None
    class_percent: float | None = None
    source: str = ""


@dataclass(frozen=True)
class BarrelEntry:
    """Hold-up of a machine's barrel.

    Attributes
    ----------
    machine : int
        Id of the machine.
    holdup_g, plug_share : float
        Mass of melt in it, and the share of it that moves as a plug.
    tanks : int
        Stirred tanks that stand for the rest.
    source : str
        Where it comes from.
    """

    machine: int
    holdup_g: float
    plug_share: float = 0.0
    tanks: int = 1
    source: str = ""
