"""Sort: caps, rings and labels come off; what does not belong is set aside."""

from recycling.stages.declaration import (
    ANOTHER_POLYMER,
    ANY_POLYMER,
    SIDE,
    WASTE,
    Loss,
    Output,
    Stage,
)
from recycling.stages.fields import Field
from recycling.stages.groups import usually

STAGE = Stage(
    key="sort",
    title="Sort",
    loss_words="Usually lost in sorting",
    summary="Take off caps, rings and labels and set aside what does not belong.",
    usual=usually("bottles"),
    gives=(
        Output("clean bottles"),
        Output("caps", (SIDE, WASTE), ANOTHER_POLYMER),
        Output("rings", (SIDE, WASTE), ANOTHER_POLYMER),
        Output("labels", (WASTE, SIDE), ANOTHER_POLYMER),
        Output("reject", (WASTE,), ANY_POLYMER),
    ),
    losses=(Loss("residue"),),
    sorts=True,
    checks=(
        Field(
            "adhesive_method",
            "How glue came off",
            "choice",
            choices=("none", "warm water", "detergent", "scraper", "hot air", "solvent"),
        ),
        Field(
            "reject_reason",
            "Why rejected",
            "choice",
            choices=("other polymer", "coloured", "dirty", "not a drinks bottle", "damaged"),
        ),
    ),
    cautions=("sharp edges", "hygiene", "solvents"),
)
