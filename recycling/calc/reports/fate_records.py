"""What a book says of runs and lots for the fates of their grams, and what is worked out of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from recycling.calc.keys import Key

Vector = npt.NDArray[np.float64]
"""Mass by column, mg: a column for each origin, or group of origins, and the last for gains."""


class Kind(StrEnum):
    """What a lot is, as far as its fate is concerned."""

    PRODUCT = "product"
    HEEL = "heel"
    SIDE = "side stream or waste"
    OTHER = "in work"


class State(StrEnum):
    """What a product is at one moment; a hold comes before what its checks say."""

    PASSED = "passed"
    FAILED = "failed"
    NOT_JUDGED = "not judged"
    ON_HOLD = "on hold"


class Work(StrEnum):
    """What a run does with what it draws."""

    MELTS = "melts"
    MIXES = "mixes"
    SORTS = "sorts"
    RECEIVES = "receives"
    DISPATCHES = "dispatches"
    DISCARDS = "discards"
    COUNTS = "counts"


@dataclass(frozen=True, slots=True)
class Moved:
    """What a run moved of a lot, or lost (lot None), before one cut: the place of that cut."""

    lot: Key | None
    cut: int
    mass_mg: int


@dataclass(frozen=True)
class RunFate:
    """A run: masses in mg, by the place of the cut that they moved before.

    Attributes
    ----------
    work : Work
        What it does.
    drawn, given, lost, unaccounted : tuple of Moved
        Into the run, out of it as lots, as measured losses, and unaccounted (below 0: a gain).
    besides : frozenset of lot
        Lots drawn that never come back as they were: purge compound and heels.
    returned : frozenset of lot
        Lots given that are what was drawn, back again.
    """

    work: Work
    drawn: tuple[Moved, ...] = ()
    given: tuple[Moved, ...] = ()
    lost: tuple[Moved, ...] = ()
    unaccounted: tuple[Moved, ...] = ()
    besides: frozenset[Key] = frozenset()
    returned: frozenset[Key] = frozenset()


@dataclass(frozen=True)
class LotFate:
    """A lot: what it is, whence it came in, and its state at each cut.

    Attributes
    ----------
    kind : Kind
        What it is.
    column : int or None
        Column of the origin of a lot that came in as it is.
    melted_before : bool
        Of such a lot: whether it had been melted.
    states : tuple of State
        Of a product: its state at each cut.
    water : float
        Moisture noted of it, as a share of its mass.
    counts_accepted : bool
        Whether it is counted as accepted when a sorting run gives it.
    known : tuple of float
        Mass by column where the order of feeding is known, mg; empty where it is well mixed.
    """

    kind: Kind = Kind.OTHER
    column: int | None = None
    melted_before: bool = False
    states: tuple[State, ...] = ()
    water: float = 0.0
    counts_accepted: bool = False
    known: tuple[float, ...] = ()


STOCK = ("unmelted", "good", "failed", "held", "not_judged", "melted", "heel", "side")
GONE = ("given_good", "given_not_good", "given_other", "discarded", "lost", "unaccounted", "inside")
FLOWS = (
    "collected",
    "accepted",
    "entered_melt",
    "entered_melt_dry",
    "made",
    "given",
    "gained",
    "gained_in_melt",
    "came_melted",
)
TAKEN_OFF = ("winding_waste", "fed_again", "put_away")


@dataclass
class Fates:
    """Mass by column at each cut, mg.

    ``at[name][k]`` is what was so at cut k, a name of `STOCK` or `GONE`; ``upto[name][k]`` what
    had happened up to it, a name of `FLOWS` or `TAKEN_OFF`. ``kept[k]`` is what was good at cut
    k - 1 and still is at cut k.
    """

    at: dict[str, Vector]
    upto: dict[str, Vector]
    kept: Vector
    good_of: dict[Key, tuple[Vector, Vector]] = field(repr=False)
    """By product: its mass that is good at each cut, mg, and share of each column in it."""

    def good(self, cut: int) -> Vector:
        """Good product in stock or given out at a cut, mg by column."""
        return self.at["good"][cut] + self.at["given_good"][cut]

    def product(self, first: int, last: int) -> Vector:
        """Product of a period: good at its end less good at its start, mg by column."""
        return self.good(last) - self.good(first)

    def made_good(self, first: int, last: int) -> Vector:
        """What became good from cut to cut, mg by column."""
        return sum((self.good(k) - self.kept[k] for k in range(first + 1, last + 1)), self.kept[0])

    def taken_back(self, first: int, last: int) -> Vector:
        """What was good and is no longer, from cut to cut, mg by column."""
        return sum(
            (self.good(k - 1) - self.kept[k] for k in range(first + 1, last + 1)), self.kept[0]
        )

    def flow(self, name: str, first: int, last: int) -> Vector:
        """What happened between two cuts, mg by column."""
        return self.upto[name][last] - self.upto[name][first]

    def melted_not_good(self, cut: int) -> Vector:
        """What had been melted or was inside a run, and was not good, mg by column."""
        names = ("failed", "held", "not_judged", "melted", "heel", "given_not_good", "inside")
        return sum((self.at[name][cut] for name in names), self.kept[0])

    def room(self, first: int, last: int) -> Vector:
        """What the product of a period can be at most, mg by column.

        First melted in it, melted before and not good at its start, gained, and what had been
        melted when it came in or was found by a count.
        """
        happened = ("entered_melt", "gained", "came_melted")
        return self.melted_not_good(first) + sum(
            (self.flow(name, first, last) for name in happened), self.kept[0]
        )

    def off_mg(self, cut: int) -> float:
        """How far the fates of any column are from what came in, and what was made from its own.

        Zero but for rounding: every gram is somewhere once; made equals winding waste, fed again,
        put away, in each of the four states, and given.
        """
        places = sum((self.at[name][cut] for name in (*STOCK, *GONE)), self.kept[0])
        came = self.upto["collected"][cut] + self.upto["gained"][cut]
        made = sum((self.upto[name][cut] for name in (*TAKEN_OFF, "given")), self.kept[0])
        states = ("good", "failed", "held", "not_judged")
        made = made + sum((self.at[name][cut] for name in states), self.kept[0])
        apart = np.abs(places - came).max(), np.abs(made - self.upto["made"][cut]).max()
        return float(max(apart))
