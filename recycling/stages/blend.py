"""Blend: two or more lots of one form are poured together and become a new lot."""

from recycling.stages.declaration import ANY_FORM, Stage

STAGE = Stage(
    key="blend",
    title="Blend",
    summary="Pour two or more lots of one form together; they become one new lot.",
    takes=tuple(form for form in ANY_FORM if form not in {"heel"}),
    same_form=True,
    least_lots=2,
    main_polymer="input",
    cautions=("dust", "lifting"),
)
