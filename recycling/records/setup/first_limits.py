"""Limits of polymers until a workshop enters its own, each value with its own source.

What nobody could read in a published source is marked *default, not checked*.
"""

from __future__ import annotations

from collections.abc import Iterable

from recycling.records.setup.practice import NOT_CHECKED, MaterialRow, WindowRow

GUIDE = (
    "injection moulding guide by class of thermoplastic, Santa Clara University,"
    " School of Engineering"
)
YES, NO = 1.0, 0.0
_G, _N = GUIDE, NOT_CHECKED

Sourced = tuple[float, str]


def _row(polymer: str, kind: str, said: dict[str, Sourced]) -> MaterialRow:
    sources = {key: source for key, (_, source) in said.items()}
    values = {key: value for key, (value, _) in said.items()}
    return MaterialRow(polymer, kind, values, _joined(sources.values()), sources=sources)


def _joined(sources: Iterable[str]) -> str:
    return "; ".join(dict.fromkeys(sources))


def _window(material: str, low: Sourced, high: Sourced) -> WindowRow:
    return WindowRow(
        material, "polymer", low[0], high[0], _joined((low[1], high[1])), False, low[1], high[1]
    )


FIRST_WINDOWS = (
    _window("PET", (265, _G), (290, _G)),
    _window("PETG", (220, _G), (290, _G)),
    _window("PLA", (180, _N), (230, _N)),
    _window("HDPE", (180, _N), (260, _N)),
    _window("LDPE", (160, _N), (240, _N)),
    _window("PP", (200, _N), (270, _N)),
    _window("PS", (180, _G), (260, _N)),
    _window("ABS", (200, _G), (260, _N)),
    _window("PA6", (230, _G), (280, _G)),
    _window("PC", (260, _N), (320, _N)),
)
"""Melt temperatures. The guide gives 280 °C for PS and ABS; both are taken lower here."""

_DRYING: dict[str, tuple[Sourced, Sourced, Sourced]] = {
    "PET": ((120, _G), (165, _G), (4, _G)),
    "PETG": ((60, _N), (66, _G), (4, _G)),
    "PLA": ((40, _N), (50, _N), (4, _N)),
    "ABS": ((80, _G), (90, _G), (2, _G)),
    "PA6": ((75, _N), (85, _G), (16, _G)),
    "PC": ((110, _N), (125, _N), (4, _N)),
}

_LIMITS: dict[str, dict[str, Sourced]] = {
    "PET": {
        "hygroscopic": (YES, _G),
        "hydrolyses": (YES, _G),
        "moisture_percent": (0.02, _G),
        "melting_c": (250, _N),
    },
    "PETG": {
        "hygroscopic": (YES, _G),
        "hydrolyses": (YES, _N),
        "moisture_percent": (0.04, _G),
        "glass_c": (80, _N),
    },
    "PLA": {
        "hygroscopic": (YES, _N),
        "hydrolyses": (YES, _N),
        "moisture_percent": (0.025, _N),
        "melting_c": (165, _N),
    },
    "HDPE": {"hygroscopic": (NO, _N), "hydrolyses": (NO, _N), "melting_c": (132, _N)},
    "LDPE": {"hygroscopic": (NO, _N), "hydrolyses": (NO, _N), "melting_c": (110, _N)},
    "PE": {"hygroscopic": (NO, _N), "hydrolyses": (NO, _N)},
    "PP": {"hygroscopic": (NO, _N), "hydrolyses": (NO, _N), "melting_c": (165, _N)},
    "PS": {"hygroscopic": (NO, _G), "hydrolyses": (NO, _N), "glass_c": (100, _N)},
    "ABS": {
        "hygroscopic": (YES, _G),
        "hydrolyses": (NO, _N),
        "moisture_percent": (0.1, _G),
        "glass_c": (105, _N),
    },
    "PA6": {
        "hygroscopic": (YES, _G),
        "hydrolyses": (YES, _N),
        "moisture_percent": (0.2, _G),
        "melting_c": (220, _N),
    },
    "PC": {
        "hygroscopic": (YES, _N),
        "hydrolyses": (YES, _N),
        "moisture_percent": (0.02, _N),
        "glass_c": (147, _N),
    },
}

_PET_HEATS = {
    "solid_kj_per_kg_k": 1.4,
    "melt_kj_per_kg_k": 1.9,
    "melting_c": 250,
    "fusion_kj_per_kg": 140,
    "crystallinity": 0.35,
}

_PET_HYDROLYSIS = {
    "start_percent": 0.3,
    "balance_percent": 0.005,
    "thickness_mm": 0.3,
    "factor_m2_per_s": 1e-6,
    "activation_kj_per_mol": 40,
    "viscosity_dl_per_g": 0.76,
    "houwink_k": 7.5e-4,
    "houwink_a": 0.68,
}

_PET_REGAIN = {
    "diffusivity_m2_per_s": 4e-13,
    "activation_kj_per_mol": 43,
    "saturation_percent": 0.6,
    "thickness_mm": 0.3,
}
"""After Yasuda and Stannett 1962 and Dubelley et al. 2017; the figures are from memory."""

FIRST_MATERIALS = (
    *(_row(polymer, "limits", said) for polymer, said in _LIMITS.items()),
    *(
        _row(polymer, "drying", dict(zip(("least_c", "most_c", "time_h"), said, strict=True)))
        for polymer, said in _DRYING.items()
    ),
    MaterialRow("PET", "heats", _PET_HEATS, NOT_CHECKED),
    MaterialRow("PET", "hydrolysis", _PET_HYDROLYSIS, NOT_CHECKED),
    MaterialRow("PET", "regain", _PET_REGAIN, NOT_CHECKED),
)
