"""What holds of a workshop's practice until it enters its own, and where that comes from."""

from __future__ import annotations

from recycling.calc.balance.closure import COMMON
from recycling.calc.balance.control_chart import POINTS_FOR_FIRM_LIMITS
from recycling.records.setup.practice import MaterialRow, PracticeField, WindowRow

COMMON_PRACTICE, FROM_MEMORY, FIRST_SETTING = "common practice", "from memory", "a first setting"
OWN_CHOICE = "this project's own choice"

PRACTICES = (
    PracticeField(
        "wait_min",
        "Wait after each change of a setting",
        "min",
        12,
        f"{COMMON_PRACTICE}: 10 to 15 minutes",
        0,
        240,
    ),
    PracticeField(
        "step_c",
        "Largest step of all zones together",
        "°C",
        5,
        COMMON_PRACTICE,
        1,
        100,
    ),
    PracticeField(
        "residue_percent",
        "Residue of the old polymer that may be left",
        "%",
        1,
        FIRST_SETTING,
        0.0001,
        50,
    ),
    PracticeField(
        "shutdown_purge_g",
        "Purge before a barrel is shut down",
        "g",
        50,
        f"{COMMON_PRACTICE}: about 50 g on a bench extruder",
        0,
        100_000,
    ),
    PracticeField(
        "particle_limit_mm",
        "Largest particle that may be fed",
        "mm",
        4,
        f"{COMMON_PRACTICE}: below 4 mm",
        0.1,
        100,
    ),
    PracticeField(
        "particle_allowed_percent",
        "Share of larger particles that is allowed",
        "%",
        5,
        FIRST_SETTING,
        0,
        100,
    ),
    PracticeField(
        "open_limit_h",
        "Longest time open between drying and feeding",
        "h",
        1,
        f"{COMMON_PRACTICE}: fed at once or sealed",
        0,
        1000,
    ),
    PracticeField(
        "open_band_h",
        "End of the second band of times open in a search for a cause",
        "h",
        4,
        OWN_CHOICE,
        0.1,
        1000,
    ),
    PracticeField(
        "open_long_h",
        "End of the third band of times open in a search for a cause",
        "h",
        24,
        OWN_CHOICE,
        0.1,
        10_000,
    ),
    *(
        PracticeField(
            key,
            f"Width of bands of {of} in a search for a cause",
            unit,
            width,
            OWN_CHOICE,
            0.01,
            1000,
        )
        for key, of, unit, width in (
            ("band_c", "temperatures", "°C", 10),
            (
                "band_per_min",
                "turning speeds",
                "1/min",
                5,
            ),
            ("band_percent", "shares", "%", 10),
            ("band_mm_s", "speeds", "mm/s", 10),
        )
    ),
    PracticeField(
        "session_gap_min",
        "Longest pause within one session of a machine",
        "min",
        60,
        FIRST_SETTING,
        0,
        1440,
    ),
    PracticeField(
        "rated_u_percent",
        "Standard uncertainty of energy from rated power, duty and logged time",
        "%",
        20,
        FROM_MEMORY,
        0.1,
        100,
    ),
    PracticeField(
        "ambient_c", "Temperature of material before heating", "°C", 20, FIRST_SETTING, -20, 60
    ),
    PracticeField(
        "counted_u_percent",
        "Standard uncertainty of a count without a sample",
        "%",
        10,
        FROM_MEMORY,
        0.01,
        100,
    ),
    PracticeField(
        "estimated_u_percent",
        "Standard uncertainty of a bare estimate",
        "%",
        20,
        FROM_MEMORY,
        0.01,
        100,
    ),
    PracticeField(
        "no_scale_step_g",
        "Step of the scale, class III, where none is set up",
        "g",
        5,
        FROM_MEMORY,
        0.001,
        10_000,
    ),
    PracticeField(
        "within_u",
        "Standard uncertainties up to which a run closes within weighing",
        "u",
        COMMON.within_u,
        f"{COMMON_PRACTICE}; JCGM 100:2008, 6.2.1",
        1,
        10,
    ),
    PracticeField(
        "open_u",
        "Standard uncertainties up to which a run is to look at",
        "u",
        COMMON.open_u,
        COMMON_PRACTICE,
        1,
        20,
    ),
    PracticeField(
        "chart_runs",
        "Runs from which limits of a yield chart are firm",
        "runs",
        POINTS_FOR_FIRM_LIMITS,
        COMMON_PRACTICE,
        2,
        1000,
    ),
    PracticeField(
        "covered_percent",
        "Logged share of a week from which its energy counts for the base load",
        "%",
        90,
        FIRST_SETTING,
        1,
        100,
    ),
)

FIRST_WINDOWS = (
    WindowRow("PET", "polymer", 250, 300, COMMON_PRACTICE),
    WindowRow("PLA", "polymer", 180, 240, COMMON_PRACTICE),
    WindowRow("HDPE", "polymer", 180, 260, FROM_MEMORY),
    WindowRow("PP", "polymer", 200, 270, FROM_MEMORY),
)

GUIDE = (
    "generic injection-moulding guide by class of thermoplastic, Santa Clara University, School of"
    " Engineering"
)
NEEDS_DRYING: dict[str, tuple[bool, str]] = {
    "PET": (True, GUIDE),
    "PETG": (True, GUIDE),
    "PLA": (True, FROM_MEMORY),
    "ABS": (True, GUIDE),
    "PA6": (True, GUIDE),
    "PC": (True, FROM_MEMORY),
    "PS": (False, GUIDE),
    "HDPE": (False, FROM_MEMORY),
    "LDPE": (False, FROM_MEMORY),
    "PE": (False, FROM_MEMORY),
    "PP": (False, FROM_MEMORY),
}
"""Whether a polymer takes up water that must be out before it melts, and where that is from."""

FIRST_MATERIALS = (
    MaterialRow(
        "PET",
        "drying",
        {"least_c": 130, "most_c": 160, "time_h": 5},
        f"{COMMON_PRACTICE}: about 140 °C for 5 h",
    ),
    MaterialRow("PLA", "drying", {"least_c": 40, "most_c": 55, "time_h": 4}, FROM_MEMORY),
    MaterialRow(
        "PET",
        "heats",
        {
            "solid_kj_per_kg_k": 1.4,
            "melt_kj_per_kg_k": 1.9,
            "melting_c": 250,
            "fusion_kj_per_kg": 140,
            "crystallinity": 0.35,
        },
        FROM_MEMORY,
    ),
    MaterialRow(
        "PET",
        "hydrolysis",
        {
            "start_percent": 0.3,
            "balance_percent": 0.005,
            "thickness_mm": 0.3,
            "factor_m2_per_s": 1e-6,
            "activation_kj_per_mol": 40,
            "viscosity_dl_per_g": 0.76,
            "houwink_k": 7.5e-4,
            "houwink_a": 0.68,
        },
        FROM_MEMORY,
    ),
)
