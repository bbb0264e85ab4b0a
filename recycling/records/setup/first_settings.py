"""What holds of a workshop's practice until it enters its own, and where that comes from."""

from __future__ import annotations

from recycling.calc.balance.control_chart import POINTS_FOR_FIRM_LIMITS
from recycling.calc.balance.usual_loss import COMMON, FIRST, First
from recycling.records.setup.practice import NOT_CHECKED, PracticeField
from recycling.stages import STAGES

PRACTICES = (
    PracticeField(
        "wait_min",
        "Wait after each change of a setting",
        "min",
        12,
        NOT_CHECKED,
        0,
        240,
    ),
    *(
        PracticeField(key, label, unit, value, NOT_CHECKED, low, high)
        for key, label, unit, value, low, high in (
            ("heat_k_per_min", "Heating of all zones together", "°C/min", 3, 0.1, 60),
            ("cool_k_per_min", "Cooling of all zones together", "°C/min", 1.5, 0.1, 60),
            ("wash_g_per_min", "Feed while a barrel is washed", "g/min", 8, 0.1, 10_000),
            ("creep_g_per_min", "Feed while the zones move", "g/min", 2, 0.1, 10_000),
            (
                "freeze_percent",
                "Old plastic that may be left when zones leave its temperature range",
                "%",
                5,
                0.1,
                50,
            ),
        )
    ),
    PracticeField(
        "residue_percent",
        "Residue of the old polymer that may be left",
        "%",
        1,
        NOT_CHECKED,
        0.0001,
        50,
    ),
    PracticeField(
        "shutdown_purge_g",
        "Purge before a barrel is shut down",
        "g",
        50,
        NOT_CHECKED,
        0,
        100_000,
    ),
    PracticeField(
        "particle_limit_mm",
        "Largest particle that may be fed",
        "mm",
        4,
        NOT_CHECKED,
        0.1,
        100,
    ),
    PracticeField(
        "particle_allowed_percent",
        "Share of larger particles that is allowed",
        "%",
        5,
        NOT_CHECKED,
        0,
        100,
    ),
    PracticeField(
        "gauge_u_mm",
        "Error of a hand gauge for diameters that 95 % of readings keep",
        "mm",
        0.02,
        NOT_CHECKED,
        0,
        1,
    ),
    PracticeField(
        "gauge_step_mm",
        "Smallest difference that a hand gauge for diameters shows",
        "mm",
        0.01,
        NOT_CHECKED,
        0,
        1,
    ),
    PracticeField(
        "open_limit_h",
        "Longest time open between drying and feeding",
        "h",
        0.25,
        NOT_CHECKED,
        0,
        1000,
    ),
    PracticeField("room_c", "Temperature of the room", "°C", 23, NOT_CHECKED, -20, 60),
    PracticeField(
        "humidity_percent", "Relative humidity of the room", "%", 60, NOT_CHECKED, 0, 100
    ),
    PracticeField(
        "open_band_h",
        "End of the second band of times open in a search for a cause",
        "h",
        4,
        NOT_CHECKED,
        0.1,
        1000,
    ),
    PracticeField(
        "open_long_h",
        "End of the third band of times open in a search for a cause",
        "h",
        24,
        NOT_CHECKED,
        0.1,
        10_000,
    ),
    *(
        PracticeField(
            key,
            f"Width of bands of {of} in a search for a cause",
            unit,
            width,
            NOT_CHECKED,
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
        NOT_CHECKED,
        0,
        1440,
    ),
    PracticeField(
        "rated_u_percent",
        "Standard uncertainty of energy from rated power, duty and logged time",
        "%",
        20,
        NOT_CHECKED,
        0.1,
        100,
    ),
    PracticeField(
        "ambient_c", "Temperature of material before heating", "°C", 20, NOT_CHECKED, -20, 60
    ),
    PracticeField(
        "counted_u_percent",
        "Standard uncertainty of a count without a sample",
        "%",
        10,
        NOT_CHECKED,
        0.01,
        100,
    ),
    PracticeField(
        "estimated_u_percent",
        "Standard uncertainty of a bare estimate",
        "%",
        20,
        NOT_CHECKED,
        0.01,
        100,
    ),
    PracticeField(
        "no_scale_step_g",
        "Step of the scale, class III, where none is set up",
        "g",
        5,
        NOT_CHECKED,
        0.001,
        10_000,
    ),
    PracticeField(
        "within_u",
        "Standard uncertainties up to which a run balances within weighing",
        "u",
        COMMON.within_u,
        "JCGM 100:2008, 6.2.1",
        1,
        10,
    ),
    PracticeField(
        "usual_sd",
        "Standard deviations of the usual loss up to which a run balances",
        "sd",
        COMMON.usual_sd,
        NOT_CHECKED,
        1,
        10,
    ),
    PracticeField(
        "open_sd",
        "Standard deviations of the usual loss up to which a run is only to be checked",
        "sd",
        COMMON.open_sd,
        NOT_CHECKED,
        1,
        20,
    ),
    *(
        PracticeField(
            f"usual_loss_{stage.key}_percent",
            stage.loss_words,
            "%",
            100 * FIRST.get(stage.key, First()).share,
            NOT_CHECKED,
            0,
            90,
        )
        for stage in STAGES
        if stage.loss_words
    ),
    PracticeField(
        "chart_runs",
        "Runs from which limits of a yield chart are firm",
        "runs",
        POINTS_FOR_FIRM_LIMITS,
        NOT_CHECKED,
        2,
        1000,
    ),
    PracticeField(
        "covered_percent",
        "Logged share of a week from which its energy counts for the base load",
        "%",
        90,
        NOT_CHECKED,
        1,
        100,
    ),
)
