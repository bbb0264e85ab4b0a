"""Shape: something is pressed, moulded, cast or printed."""

from recycling.stages.declaration import RECIRCULATE, WASTE, Loss, Output, Stage
from recycling.stages.fields import Field
from recycling.stages.groups import NEEDS_NO_DRYING, usually

STAGE = Stage(
    key="shape",
    title="Shape a product",
    loss_words="Usually lost in shaping",
    summary="Press, mould, cast or print a thing; say what it is and how many came out.",
    also=usually("dried flake", "pellets", "filament")
    + usually("flake", "caps", "rings", of=NEEDS_NO_DRYING),
    gives=(
        Output("product"),
        Output("start-up scrap", (WASTE, RECIRCULATE)),
        Output("offcuts", (WASTE, RECIRCULATE)),
    ),
    losses=(Loss("volatiles"),),
    any_machine=True,
    melts=True,
    heats=("plate_c", "melt_c"),
    checks=(
        Field("made", "What was made", "text"),
        Field("how", "How", "choice", choices=("pressed", "moulded", "cast", "printed")),
    ),
    settings=(
        Field("melt_c", "Melt temperature", unit="°C", minimum=0, maximum=400),
        Field("plate_c", "Plate temperature", unit="°C", minimum=0, maximum=400),
    ),
    cautions=("hot melt", "heat", "fumes", "fire", "electricity", "crushing", "not for food"),
)
