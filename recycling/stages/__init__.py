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
    shape,
    shred,
    sort,
    wash,
    wind,
)
from recycling.stages.declaration import Stage
from recycling.stages.groups import ANY, group_of

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
    shape.STAGE,
    dispatch.STAGE,
    discard.STAGE,
    count.STAGE,
]

TITLE_OF = {one.key: one.title for one in STAGES}
BORDER_OF = {one.key: one.border for one in STAGES}


def stage(key: str) -> Stage | None:
    """Find a stage by its key."""
    return next((declared for declared in STAGES if declared.key == key), None)


def asking_polymer(form: str) -> bool:
    """Whether it depends on the polymer, at one stage or another, if a form is usually drawn."""
    return any(one.asks_polymer(form) for one in STAGES)


def next_stage(form: str, needs_drying: bool | None) -> Stage | None:
    """Name the stage that a form of a polymer usually waits for: the first that material meets.

    A polymer of which nothing is known is taken for one that needs drying.
    """
    group = group_of(needs_drying is not False)
    return next(
        (one for one in STAGES if {(form, ANY), (form, group)} & set(one.usual)),
        None,
    )
