"""Dry: heat drives water out before the melt."""

from recycling.stages.declaration import Loss, Output, Stage
from recycling.stages.fields import Field
from recycling.stages.groups import NEEDS_DRYING, usually

STAGE = Stage(
    key="dry",
    title="Dry",
    loss_words="Usually lost in drying, beside the water that is written down",
    summary="Drive the water out with heat; keep it sealed until it is fed.",
    usual=usually("flake", of=NEEDS_DRYING),
    also=usually(
        "pellets",
        "dried flake",
        "cut pieces",
        "oversize",
        "fines",
        "start-up scrap",
        "offcuts",
        "filament",
        of=NEEDS_DRYING,
    ),
    gives=(Output("dried flake"),),
    same_form=True,
    losses=(Loss("water"),),
    machine="dryer",
    dries=True,
    heats=("real_c", "set_c"),
    checks=(
        Field("hours_at_temperature", "Time at temperature", unit="h", minimum=0, maximum=72),
        Field("moisture_before_percent", "Moisture before", unit="%", minimum=0, maximum=100),
        Field("moisture_after_percent", "Moisture after", unit="%", minimum=0, maximum=100),
        Field(
            "kept",
            "Kept until the feed",
            "choice",
            choices=("sealed", "open"),
            hint="Hot dry flake takes up water from the air again within minutes: keep it sealed.",
        ),
    ),
    settings=(
        Field("set_c", "Set temperature", unit="°C", minimum=0, maximum=250),
        Field("real_c", "Real temperature", unit="°C", minimum=0, maximum=250),
        Field("dew_point_c", "Dew point", unit="°C", minimum=-80, maximum=50),
    ),
    cautions=("heat", "fire", "electricity", "fumes"),
)
