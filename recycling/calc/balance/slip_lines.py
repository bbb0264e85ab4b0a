"""Explanations of a run as lines: what would be right, how likely, and whether one leads."""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

from recycling.calc.balance.slip_changes import (
    FACTOR_TEN,
    LOST,
    OTHER,
    SWAPPED,
    TARE_FORGOTTEN,
    TARE_TWICE,
)
from recycling.calc.balance.usual_sizes import Kind

LEAD = 0.7
"""From which chance on a slip is named alone."""

BOTH_SIDES = 0.25
"""Two sides of one change are one line where the lesser is this part of the other, or more."""


@dataclass(frozen=True, slots=True)
class Line:
    """One explanation, as people read it.

    Attributes
    ----------
    kinds : tuple of str
        Keys of ``PRIOR``, the likeliest first; more where all come to the same.
    keys : tuple
        The figures it names; two where the same change on either side explains it, empty for
        material lost and something else.
    chance : float
        Between 0 and 1, of all explanations.
    right_mg : float or None
        What the first figure would be, net, mg; for an output left out, what it would weigh.
    left_mg : float
        What would be unaccounted for then, mg.
    container : str
        The container whose tare it is about.
    left_out : tuple
        The kind of figure that was left out.
    """

    kinds: tuple[str, ...]
    keys: tuple[Hashable, ...]
    chance: float
    right_mg: float | None
    left_mg: float
    container: str = ""
    left_out: Kind = ()

    @property
    def kind(self) -> str:
        """The likeliest kind."""
        return self.kinds[0]


@dataclass(frozen=True, slots=True)
class Explained:
    """All lines, the likeliest first, and the slip that leads, if one does."""

    lines: tuple[Line, ...]
    slips: tuple[Line, ...]

    @property
    def named(self) -> Line | None:
        """The slip that leads with ``LEAD`` or more; None where none does."""
        first = self.slips[0] if self.slips else None
        return first if first and first.chance >= LEAD else None


@dataclass(frozen=True, slots=True)
class Guess:
    """One hypothesis, and ln of its weight."""

    kind: str
    score: float
    keys: tuple[Hashable, ...]
    right_mg: float | None
    left_mg: float
    side: str = ""
    container: str = ""
    left_out: Kind = ()


def explained(weighed: Sequence[tuple[Guess, float]]) -> Explained:
    """Put guesses together to lines, those about slips apart."""
    lines = tuple(_lines(weighed))
    return Explained(lines, tuple(one for one in lines if one.kind not in (LOST, OTHER)))


def _lines(weighed: Sequence[tuple[Guess, float]]) -> list[Line]:
    """Make a line of each guess; of the two sides of one change, or of one right figure, one."""
    ranked = sorted(weighed, key=lambda pair: -pair[1])
    lines: list[Line] = []
    while ranked:
        (guess, chance), *others = ranked
        line = Line(
            (guess.kind,),
            guess.keys,
            chance,
            guess.right_mg,
            guess.left_mg,
            guess.container,
            guess.left_out,
        )
        ranked = []
        for other, part in others:
            mirrored = _mirrors(guess, other) and part >= BOTH_SIDES * chance
            if _same_figure(guess, other) or (mirrored and len(line.keys) == 1):
                line = replace(
                    line,
                    kinds=_kinds(*line.kinds, other.kind),
                    keys=tuple(dict.fromkeys((*line.keys, *other.keys))),
                    chance=line.chance + part,
                )
            else:
                ranked.append((other, part))
        lines.append(line)
    return sorted(lines, key=lambda line: -line.chance)


def _kinds(*kinds: str) -> tuple[str, ...]:
    """Name a place too many before two digits that happen to be swapped: it is the plainer word."""
    unique = dict.fromkeys(kinds)
    return (FACTOR_TEN, SWAPPED) if set(unique) == {FACTOR_TEN, SWAPPED} else tuple(unique)


def _same_figure(one: Guess, other: Guess) -> bool:
    """Whether two guesses put the same right figure in the same place."""
    if not one.keys or one.keys != other.keys:
        return False
    assert one.right_mg is not None and other.right_mg is not None
    return math.isclose(one.right_mg, other.right_mg, abs_tol=1.0)


def _mirrors(one: Guess, other: Guess) -> bool:
    """Whether two guesses are the same change on two sides: same tare, opposite sides and kinds."""
    return (
        {one.kind, other.kind} == {TARE_FORGOTTEN, TARE_TWICE}
        and one.container == other.container
        and one.side != other.side
        and math.isclose(one.left_mg, other.left_mg, abs_tol=1.0)
    )
