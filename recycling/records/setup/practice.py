"""How a workshop works: limits, windows and recipes, each with its source.

What is changed of how a workshop works, always with where it comes from.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

NOT_CHECKED = "default, not checked"
"""Source of a first setting for which no published one was read."""


@dataclass(frozen=True)
class PracticeField:
    """A limit or habit that a workshop can change.

    Attributes
    ----------
    key, label, unit : str
        Its name in the book and on pages, and its unit.
    value : float
        What holds until the workshop says otherwise.
    source : str
        Where that comes from.
    low, high : float
        Between what it may lie.
    """

    key: str
    label: str
    unit: str
    value: float
    source: str
    low: float
    high: float


@dataclass(frozen=True)
class PracticeRow:
    """A limit or habit as it holds now.

    Attributes
    ----------
    key, label, unit, source : str
        Its name, its label, its unit, and where the value comes from.
    value : float
        What holds.
    own : bool
        Whether the workshop set it.
    """

    key: str
    label: str
    unit: str
    value: float
    source: str
    own: bool


@dataclass(frozen=True)
class WindowRow:
    """A processing window as it holds now.

    Attributes
    ----------
    material, kind, source : str
        Of what, whether "polymer" or "purge compound", and where it comes from.
    low_c, high_c : float
        Its two ends.
    own : bool
        Whether the workshop set it.
    low_source, high_source : str
        Where each end comes from, if not both from `source`.
    """

    material: str
    kind: str
    low_c: float
    high_c: float
    source: str
    own: bool = False
    low_source: str = ""
    high_source: str = ""


@dataclass(frozen=True)
class MaterialField:
    """One number of a recipe or of a polymer's properties.

    Attributes
    ----------
    key, label, unit : str
        Its name in the book and on pages, and its unit.
    low, high : float
        Between what it may lie.
    needed : bool
        Whether a row without it is refused.
    yes_no : bool
        Whether it is 1 for yes and 0 for no.
    """

    key: str
    label: str
    unit: str
    low: float
    high: float
    needed: bool = True
    yes_no: bool = False


MATERIAL_FIELDS: Mapping[str, tuple[MaterialField, ...]] = MappingProxyType(
    {
        "limits": (
            MaterialField("hygroscopic", "Takes up water", "", 0, 1, yes_no=True),
            MaterialField("hydrolyses", "Water harms its melt", "", 0, 1, yes_no=True),
            MaterialField("moisture_percent", "Most moisture at the feed", "%", 1e-4, 5, False),
            MaterialField("melting_c", "Melting point", "°C", 0, 400, False),
            MaterialField("glass_c", "Glass transition", "°C", -150, 400, False),
        ),
        "drying": (
            MaterialField("least_c", "Lowest temperature that counts", "°C", 0, 250),
            MaterialField("most_c", "Highest temperature allowed", "°C", 0, 250),
            MaterialField("time_h", "Time at temperature", "h", 0.1, 72),
        ),
        "heats": (
            MaterialField("solid_kj_per_kg_k", "Specific heat, solid", "kJ/(kg K)", 0.1, 10),
            MaterialField("melt_kj_per_kg_k", "Specific heat, melt", "kJ/(kg K)", 0.1, 10),
            MaterialField("melting_c", "Melting point", "°C", 0, 400),
            MaterialField("fusion_kj_per_kg", "Heat of fusion of crystals", "kJ/kg", 0, 500),
            MaterialField("crystallinity", "Share of crystals, 0 to 1", "", 0, 1),
        ),
        "hydrolysis": (
            MaterialField("start_percent", "Moisture before drying", "%", 0, 20),
            MaterialField("balance_percent", "Moisture the dryer's air leaves", "%", 0, 20),
            MaterialField("thickness_mm", "Thickness of the flake", "mm", 0.01, 20),
            MaterialField("factor_m2_per_s", "Diffusion factor D0", "m²/s", 1e-9, 1),
            MaterialField("activation_kj_per_mol", "Activation energy", "kJ/mol", 1, 500),
            MaterialField("viscosity_dl_per_g", "Intrinsic viscosity before", "dL/g", 0.1, 5),
            MaterialField("houwink_k", "Mark-Houwink K", "dL/g", 0.000001, 1),
            MaterialField("houwink_a", "Mark-Houwink a", "", 0.1, 2),
        ),
        "regain": (
            MaterialField(
                "diffusivity_m2_per_s", "Diffusivity of water at 25 °C", "m²/s", 1e-18, 1e-6
            ),
            MaterialField("activation_kj_per_mol", "Activation energy", "kJ/mol", 1, 500),
            MaterialField("saturation_percent", "Moisture at 100 % humidity", "%", 1e-4, 20),
            MaterialField("thickness_mm", "Thickness of the thinnest flake", "mm", 0.01, 20),
        ),
    }
)


@dataclass(frozen=True)
class MaterialRow:
    """A recipe or the properties of a polymer as they hold now.

    Attributes
    ----------
    polymer, kind, source : str
        Of what, a key of `MATERIAL_FIELDS`, and where they come from.
    values : mapping of str to float
        The numbers by the keys of `MATERIAL_FIELDS`; 1 is yes and 0 no.
    own : bool
        Whether the workshop set them.
    sources : mapping of str to str
        Where each number comes from, if they differ.
    """

    polymer: str
    kind: str
    values: Mapping[str, float]
    source: str
    own: bool = False
    sources: Mapping[str, str] = field(default_factory=dict)


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
