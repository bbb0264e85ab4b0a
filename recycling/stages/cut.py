"""Cut: bottles become pieces that the shredder takes."""

from recycling.stages.declaration import WASTE, Loss, Output, Stage
from recycling.stages.groups import usually

STAGE = Stage(
    key="cut",
    title="Cut",
    loss_words="Usually lost in cutting",
    summary="Cut bottles into pieces; necks and bases that are too thick are set aside.",
    also=usually("clean bottles"),
    gives=(Output("cut pieces"), Output("offcuts", (WASTE,))),
    losses=(Loss("dust"),),
    machine="cutter",
    cautions=("sharp edges", "moving blades"),
)
