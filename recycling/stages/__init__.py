"""The process: one module for each stage, in the order material meets them.

What others ask of stages they ask of the declarations: no module outside this room names one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Set

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
from recycling.stages.declaration import DISPATCHED, RECEIVED, Stage
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


Says = Callable[[Stage], object]
"""What a stage may say of itself."""


class Keys(Set[str]):
    """Keys of the stages that say something of themselves, in the order of the list.

    The list is asked each time, so that a stage which is added to it counts from then on.

    >>> melting = Keys(lambda one: one.melts)
    >>> list(melting), "wash" in melting, sorted(melting | {"wash"})
    (['extrude', 'shape'], False, ['extrude', 'shape', 'wash'])
    """

    def __init__(self, says: Says) -> None:
        self._says = says

    def __contains__(self, key: object) -> bool:
        return any(one.key == key and self._says(one) for one in STAGES)

    def __iter__(self) -> Iterator[str]:
        return (one.key for one in STAGES if self._says(one))

    def __len__(self) -> int:
        return sum(1 for _ in self)

    @classmethod
    def _from_iterable(cls, keys):
        return frozenset(keys)


RECEIVING = Keys(lambda one: one.border == RECEIVED)
DISPATCHING = Keys(lambda one: one.border == DISPATCHED)
WORKING = Keys(lambda one: one.works)
COUNTING = Keys(lambda one: one.counts)
DRYING = Keys(lambda one: one.dries)
MELTING = Keys(lambda one: one.melts)
KEEPING_HEELS = Keys(lambda one: one.keeps_heel)
MAKING_FILAMENT = Keys(lambda one: one.makes_filament)


def stage(key: str) -> Stage | None:
    """Find a stage by its key."""
    return next((declared for declared in STAGES if declared.key == key), None)


def declared_of(key: str) -> Stage:
    """Give what a stage of the book declares; of one that is no more, nothing but its key."""
    return stage(key) or Stage(key, key, "")


def first_of(keys: Keys) -> Stage:
    """Give the first stage of some."""
    return declared_of(next(iter(keys)))


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
