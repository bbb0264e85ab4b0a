"""The process: one module for each stage, in the order material meets them."""

from recycling.stages import (
    blend,
    count,
    cut,
    discard,
    dispatch,
    dry,
    extrude,
    receive,
    screen,
    shred,
    sort,
    wash,
    wind,
)
from recycling.stages.declaration import Stage

STAGES: list[Stage] = [
    receive.STAGE,
    sort.STAGE,
    wash.STAGE,
    cut.STAGE,
    shred.STAGE,
    screen.STAGE,
    dry.STAGE,
    blend.STAGE,
    extrude.STAGE,
    wind.STAGE,
    dispatch.STAGE,
    discard.STAGE,
    count.STAGE,
]

TITLE_OF = {one.key: one.title for one in STAGES}
BORDER_OF = {one.key: one.border for one in STAGES}


def stage(key: str) -> Stage | None:
    """Find a stage by its key."""
    return next((declared for declared in STAGES if declared.key == key), None)
