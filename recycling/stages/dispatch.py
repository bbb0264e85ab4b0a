"""Dispatch: something leaves for a named receiver."""

from recycling.stages.declaration import ANY_FORM, DISPATCHED, HEEL, Stage
from recycling.stages.fields import Field
from recycling.stages.groups import usually

STAGE = Stage(
    key="dispatch",
    title="Dispatch",
    summary="Hand something to a named receiver: a user of spools, a partner who takes caps.",
    usual=usually("caps", "rings"),
    also=usually(*(form for form in ANY_FORM if form != HEEL)),
    border=DISPATCHED,
    main_polymer="input",
    checks=(
        Field("receiver", "Receiver", "text", required=True),
        Field("document", "Document", "text"),
    ),
    cautions=("lifting",),
)
