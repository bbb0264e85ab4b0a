"""Discard: something leaves as waste."""

from recycling.stages.declaration import ANY_FORM, DISCARDED, Stage
from recycling.stages.fields import Field
from recycling.stages.groups import usually

BURNED = "burned for energy"
"""The destination that is disposal all the same: burning is not diversion."""

STAGE = Stage(
    key="discard",
    title="Discard",
    summary="Hand something to waste collection, with where it goes and why.",
    usual=usually("labels", "reject", "fines", "changeover scrap"),
    also=usually(*ANY_FORM),
    border=DISCARDED,
    main_polymer="input",
    checks=(
        Field(
            "destination",
            "Where it goes",
            "choice",
            choices=("landfill", BURNED, "municipal sorting", "hazardous waste"),
            required=True,
        ),
        Field("why", "Why", "text", required=True),
    ),
    cautions=("lifting", "dust"),
)
