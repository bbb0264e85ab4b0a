"""Dispatch: something leaves for a named receiver."""

from recycling.stages.declaration import ANY_FORM, DISPATCHED, Field, Stage

STAGE = Stage(
    key="dispatch",
    title="Dispatch",
    summary="Hand something to a named receiver: a user of spools, a partner who takes caps.",
    takes=tuple(form for form in ANY_FORM if form != "heel"),
    border=DISPATCHED,
    main_polymer="input",
    checks=(
        Field("receiver", "Receiver", "text", required=True),
        Field("document", "Document", "text"),
    ),
    cautions=("lifting",),
)
