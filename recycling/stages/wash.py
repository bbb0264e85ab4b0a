"""Wash: the same form comes out cleaner, and often wetter."""

from recycling.stages.declaration import WASTE, Loss, Output, Stage
from recycling.stages.fields import Field
from recycling.stages.groups import usually

STAGE = Stage(
    key="wash",
    title="Wash",
    loss_words="Usually lost in washing",
    summary="Rinse off drink, dirt and glue; the form stays the same.",
    also=usually("clean bottles", "flake", "cut pieces", "caps", "rings"),
    gives=(Output("reject", (WASTE,)),),
    same_form=True,
    losses=(Loss("residue"), Loss("water", gain=True)),
    machine="wash tub",
    main_polymer="input",
    checks=(
        Field(
            "surface",
            "Weighed wet or surface-dry",
            "choice",
            choices=("wet", "surface-dry"),
        ),
        Field(
            "moisture_percent",
            "Moisture after washing",
            unit="%",
            minimum=0,
            maximum=100,
            hint="Wet basis: water in the wet mass.",
        ),
        Field("water_c", "Water temperature", unit="°C", minimum=0, maximum=100),
    ),
    cautions=("wet floor", "electricity", "sharp edges", "lifting"),
)
