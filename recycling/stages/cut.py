"""Cut: bottles become pieces that the shredder takes."""

from recycling.stages.declaration import WASTE, Loss, Output, Stage

STAGE = Stage(
    key="cut",
    title="Cut",
    summary="Cut bottles into pieces; necks and bases that are too thick are set aside.",
    takes=("clean bottles",),
    gives=(Output("cut pieces"), Output("offcuts", (WASTE,))),
    losses=(Loss("dust"),),
    machine="cutter",
    cautions=("sharp edges", "moving blades"),
)
