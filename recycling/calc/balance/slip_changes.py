"""The slips that can happen to one typed figure of a run, and what it would be without each."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass

from recycling.calc.balance.usual_sizes import Kind
from recycling.calc.guards import not_negative
from shared.units import MG_PER_UNIT

TARE_FORGOTTEN, TARE_TWICE = "tare forgotten", "tare taken twice"
SWAPPED, FACTOR_TEN, UNIT = "digits swapped", "factor ten", "unit mistaken"
TWICE, LEFT_OUT = "entered twice", "output left out"
LOST, OTHER = "material lost", "something else"

PRIOR: Mapping[str, float] = {
    LOST: 0.30,
    TARE_FORGOTTEN: 0.20,
    SWAPPED: 0.15,
    FACTOR_TEN: 0.15,
    TWICE: 0.12,
    LEFT_OUT: 0.08,
    UNIT: 0.05,
    TARE_TWICE: 0.05,
    OTHER: 0.05,
}
"""How often each kind is at work where a run does not close: weights, default, not checked."""

UNITS_MISTAKEN = (("kg", "lb"), ("lb", "kg"), ("g", "oz"), ("oz", "g"))
"""(unit typed, unit that the scale showed)."""


@dataclass(frozen=True, slots=True)
class Typed:
    """One figure of a run.

    Attributes
    ----------
    key : hashable
        By which the caller knows it.
    side : {"in", "out"}
        Whether it went in, or came out: product, side stream, waste, measured loss.
    kind : tuple of str
        Of which figures it is one: by these its usual size is known.
    gross_mg, tare_mg : float
        As entered, mg; the tare 0 where none was taken off.
    containers : tuple of str
        Containers whose tare may be the one taken off; empty where none was.
    step_mg : float or None
        What the scale shows at the least, mg; None where the scale is not known.
    lot : hashable
        The lot it was taken from or put into.
    whole : bool
        Taken whole: nobody typed it, it is what the book had left of the lot.
    right : bool
        Somebody has looked and says that it is right.
    """

    key: Hashable
    side: str
    kind: Kind
    gross_mg: float
    tare_mg: float = 0.0
    containers: tuple[str, ...] = ()
    step_mg: float | None = None
    lot: Hashable = None
    whole: bool = False
    right: bool = False

    def __post_init__(self) -> None:
        if self.side not in ("in", "out"):
            raise ValueError(f"side is 'in' or 'out', not {self.side!r}")
        not_negative("gross_mg", self.gross_mg)
        not_negative("tare_mg", self.tare_mg)

    @property
    def net_mg(self) -> float:
        """Gross − tare, mg."""
        return self.gross_mg - self.tare_mg

    @property
    def sign(self) -> int:
        """+1 for what went in, −1 for what came out."""
        return 1 if self.side == "in" else -1

    @property
    def open_to_slips(self) -> bool:
        """Whether a person typed it, and nobody has confirmed it."""
        return not self.whole and not self.right and self.gross_mg > 0


@dataclass(frozen=True, slots=True)
class Change:
    """What a figure would be without one slip: net and gross in mg.

    ``container`` is the one whose tare it is about; ``same_step`` says whether the scale shows the
    right figure in the steps of the typed one, which another unit does not.
    """

    kind: str
    right_mg: float
    gross_mg: float
    container: str = ""
    same_step: bool = True


def changes(one: Typed, tares_mg: Mapping[str, float]) -> Iterator[Change]:
    """List what may have happened to a figure: tares, digits, a place too many, a unit.

    `tares_mg` are the tares of the workshop's containers by name. A figure that would be nothing
    or less is left out.

    Examples
    --------
    >>> bag = Typed(1, "in", ("sort", "in", "bottles"), 12_400_000, step_mg=100_000)
    >>> for one in list(changes(bag, {"crate": 1_200_000}))[:4]:
    ...     print(one.kind, one.right_mg / 1e6)
    tare forgotten 11.2
    digits swapped 21.4
    digits swapped 14.2
    factor ten 1.24
    """
    found = [*_tares(one, tares_mg), *_swaps(one), *_factors(one), *_units(one)]
    return (change for change in found if change.right_mg > 0)


def _tares(one: Typed, tares_mg: Mapping[str, float]) -> Iterator[Change]:
    if not one.tare_mg:
        for name, tare_mg in tares_mg.items():
            yield Change(TARE_FORGOTTEN, one.net_mg - tare_mg, one.gross_mg, name)
    else:
        name = one.containers[0] if one.containers else ""
        yield Change(TARE_TWICE, one.gross_mg, one.gross_mg, name)


def _swaps(one: Typed) -> Iterator[Change]:
    """Swap neighbours of the figure as a scale shows it: in kg, down to its last step."""
    for gross_mg in swapped(one.gross_mg, one.step_mg):
        yield Change(SWAPPED, gross_mg - one.tare_mg, gross_mg)


def swapped(gross_mg: float, step_mg: float | None) -> list[float]:
    """Give the masses that have two neighbouring digits the other way round, mg.

    The digits are those in kg, from the first or the one before the point to the scale's step, or
    to the gram.

    Examples
    --------
    >>> swapped(3_536_000, 1_000)
    [5336000, 3356000, 3563000]
    >>> swapped(23_000, 1_000)
    [203000, 32000]
    """
    unit = 10 ** math.floor(math.log10(step_mg)) if step_mg and step_mg >= 1 else 1_000
    if round(gross_mg) % unit:
        unit = 1_000 if round(gross_mg) % 1_000 == 0 else 1
    text = str(round(gross_mg) // unit).rjust(len(str(1_000_000 // unit)), "0")
    pairs = [(at, text[at], text[at + 1]) for at in range(len(text) - 1)]
    return [
        int(text[:at] + second + first + text[at + 2 :]) * unit
        for at, first, second in pairs
        if first != second
    ]


def _factors(one: Typed) -> Iterator[Change]:
    for gross_mg in (one.gross_mg / 10, one.gross_mg * 10):
        yield Change(FACTOR_TEN, gross_mg - one.tare_mg, gross_mg)


def _units(one: Typed) -> Iterator[Change]:
    for typed, shown in UNITS_MISTAKEN:
        gross_mg = one.gross_mg * float(MG_PER_UNIT[shown] / MG_PER_UNIT[typed])
        yield Change(UNIT, gross_mg - one.tare_mg, gross_mg, same_step=False)


def on_step(gross_mg: float, step_mg: float) -> bool:
    """Whether a scale of such steps can show a mass.

    Examples
    --------
    >>> on_step(1_240_000, 20_000), on_step(1_240_000, 50_000)
    (True, False)
    """
    steps = gross_mg / step_mg
    return abs(steps - round(steps)) < 1e-6
