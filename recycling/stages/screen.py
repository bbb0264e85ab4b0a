"""Screen: a sieve parts flake from what is too coarse and what is too fine."""

from recycling.stages.declaration import RECIRCULATE, WASTE, Loss, Output, Stage
from recycling.stages.fields import Field
from recycling.stages.groups import usually

STAGE = Stage(
    key="screen",
    title="Screen",
    loss_words="Usually lost in sieving",
    summary="Sieve flake; coarse goes round again, fines are set aside.",
    also=usually("flake"),
    gives=(Output("flake"), Output("oversize", (RECIRCULATE,)), Output("fines", (WASTE,))),
    losses=(Loss("dust"),),
    machine="sieve",
    checks=(
        Field("aperture_mm", "Aperture", unit="mm", minimum=0.05, maximum=50),
        Field("retained_percent", "Fraction retained", unit="%", minimum=0, maximum=100),
    ),
    cautions=("dust", "noise"),
)
