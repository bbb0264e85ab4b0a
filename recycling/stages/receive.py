"""Receive: bags are weighed in and become lots."""

from recycling.stages.declaration import ANY_FORM, ANY_POLYMER, RECEIVED, Output, Stage
from recycling.stages.fields import Field

STAGE = Stage(
    key="receive",
    title="Receive",
    summary="Weigh in what was brought; each bag becomes a lot.",
    gives=tuple(Output(form, polymer=ANY_POLYMER) for form in ANY_FORM),
    border=RECEIVED,
    least_lots=0,
    checks=(
        Field("resin_code", "Resin code seen", minimum=1, maximum=7, hint="ASTM D7611 triangle."),
    ),
    cautions=("hygiene", "lifting", "sharp edges"),
)
