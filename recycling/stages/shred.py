"""Shred: pieces become flake; what is too coarse goes round again."""

from recycling.stages.declaration import RECIRCULATE, WASTE, Loss, Output, Stage
from recycling.stages.fields import Field
from recycling.stages.groups import usually

STAGE = Stage(
    key="shred",
    title="Shred",
    loss_words="Usually lost in shredding",
    summary="Shred to flake; what is too coarse goes round again.",
    usual=usually(
        "clean bottles",
        "cut pieces",
        "oversize",
        "start-up scrap",
        "offcuts",
    ),
    also=usually("filament", "caps", "rings"),
    gives=(Output("flake"), Output("oversize", (RECIRCULATE,)), Output("fines", (WASTE,))),
    losses=(Loss("dust"),),
    machine="shredder",
    checks=(
        Field(
            "largest_mm",
            "Largest particle of a sample",
            unit="mm",
            minimum=0,
            maximum=100,
            limit=4,
            remedy="shred again or screen it",
            hint="Common practice: below 4 mm before feeding.",
        ),
        Field("sample_count", "Particles measured", minimum=1, maximum=10_000),
        Field("above_count", "Of these above the limit", minimum=0, maximum=10_000),
        Field("pass_number", "Pass number", minimum=1, maximum=20),
    ),
    cautions=("moving blades", "dust", "noise", "sharp edges", "electricity"),
)
