"""Blend: two or more lots of one form are poured together and become a new lot."""

from recycling.stages.declaration import ANY_FORM, HEEL, Stage
from recycling.stages.groups import usually

STAGE = Stage(
    key="blend",
    title="Blend",
    loss_words="Usually lost in mixing",
    summary="Pour two or more lots of one form together; they become one new lot.",
    also=usually(*(form for form in ANY_FORM if form != HEEL)),
    same_form=True,
    least_lots=2,
    main_polymer="input",
    in_a_row=False,
    cautions=("dust", "lifting"),
)
