"""Count: a lot is set to the mass that was found."""

from recycling.stages.declaration import ANY_FORM, Stage
from recycling.stages.fields import Field
from recycling.stages.groups import usually

STAGE = Stage(
    key="count",
    title="Count",
    summary="Weigh what is there; the difference to the book is unaccounted.",
    also=usually(*ANY_FORM),
    counts=True,
    least_lots=0,
    main_polymer="input",
    checks=(Field("counted_by", "Who counted", "text"),),
    cautions=("lifting",),
)
