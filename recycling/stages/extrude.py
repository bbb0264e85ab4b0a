"""Extrude: flake becomes filament; the barrel hands its heel from run to run."""

from recycling.stages.declaration import ANY_POLYMER, HEEL, RECIRCULATE, WASTE, Loss, Output, Stage
from recycling.stages.fields import Field
from recycling.stages.groups import NEEDS_NO_DRYING, usually

STAGE = Stage(
    key="extrude",
    title="Extrude",
    loss_words="Usually lost in extruding",
    summary="Melt and draw filament; purge between polymers; a heel stays in the barrel.",
    usual=usually("dried flake") + usually("flake", "pellets", of=NEEDS_NO_DRYING),
    also=usually("pellets", "purge compound", HEEL),
    gives=(
        Output("filament", spool=True),
        Output("changeover scrap", (WASTE, RECIRCULATE), ANY_POLYMER),
        Output("start-up scrap", (WASTE, RECIRCULATE)),
        Output("offcuts", (WASTE, RECIRCULATE)),
        Output("heel", (HEEL,), ANY_POLYMER),
    ),
    losses=(Loss("volatiles"),),
    machine="extruder",
    keeps_heel=True,
    melts=True,
    heats=("zone_",),
    checks=(
        Field(
            "clean_after_purge",
            "Output clean after purging",
            "choice",
            choices=("yes", "no", "not purged"),
        ),
        Field("moisture_before_percent", "Moisture at the feed", unit="%", minimum=0, maximum=100),
        Field("seen", "What was seen", "text"),
    ),
    settings=(
        Field("zone_1_c", "Zone 1", unit="°C", minimum=0, maximum=400),
        Field("zone_2_c", "Zone 2", unit="°C", minimum=0, maximum=400),
        Field("zone_3_c", "Zone 3", unit="°C", minimum=0, maximum=400),
        Field("zone_4_c", "Zone 4", unit="°C", minimum=0, maximum=400),
        Field("screw_rpm", "Screw speed", unit="1/min", minimum=0, maximum=500),
        Field("cooling_percent", "Cooling", unit="%", minimum=0, maximum=100),
        Field("puller_mm_s", "Puller speed", unit="mm/s", minimum=0, maximum=1000),
    ),
    cautions=("hot melt", "heat", "fumes", "fire", "electricity", "rotating parts", "not for food"),
)
