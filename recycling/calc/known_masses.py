"""How sure a mass in the book is: from its scale, its sample, what was stated, or an assumption.

Sources
-------
.. [1] JCGM 100:2008 (GUM), 4.3.7, 5.1.2, and 5.2.2 for a tare that enters more than once.
.. [2] OIML R 76-1:2006, table 6 and 3.5.2, by way of ``recycling.calc.weighing``.

What is assumed where nothing better is known is handed in by the caller: it is a setting of the
workshop, shown with its source beside every figure that rests on it, and gives way to a named
scale, a sample or a stated uncertainty.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from recycling.calc.weighing import (
    LARGEST_LOAD_E,
    WeighingWarning,
    counted_mass,
    estimated_mass,
    reading,
    weighing_warnings,
)
from shared.measured import Measured

ASSUMED_CLASS = "III"
"""Accuracy class of the ordinary scales of trade [2]_, where no scale is set up."""

ASSUMPTIONS = ("assumed scale", "no scale", "assumed share")
"""Those of ``BASES`` that are assumptions."""

OF_THE_SCALE = "beyond_class"
"""Code of the one warning that is about a scale, not about what was weighed on it."""

BASES = {
    "scale": "from the class and interval of its scale",
    "assumed scale": "no scale was named: the coarsest of the workshop that carries it",
    "no scale": "no scale is set up: class III with assumed steps",
    "sample": "from a weighed sample of such bottles",
    "stated": "as stated by whoever entered it",
    "assumed share": "nothing was stated: a share of the mass assumed",
    "lot": "taken whole: from how the lot itself was weighed",
}
"""What an uncertainty rests on → that in words."""


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale: its name, class, interval e and capacity in mg."""

    name: str
    accuracy_class: str
    interval_mg: int
    capacity_mg: int


@dataclass(frozen=True, slots=True)
class Assumed:
    """What stands in where nothing better is known.

    Attributes
    ----------
    counted_share, estimated_share : float
        Relative standard uncertainty of a count without a sample, and of a bare estimate, 0 to 1.
    interval_mg : int
        Step of the scale, class III, where none is set up, mg.
    """

    counted_share: float
    estimated_share: float
    interval_mg: int

    @property
    def scale(self) -> Scale:
        """The scale that is assumed; its capacity is as far as its class reaches."""
        largest = LARGEST_LOAD_E[ASSUMED_CLASS] * self.interval_mg
        return Scale("", ASSUMED_CLASS, self.interval_mg, int(largest))


@dataclass(frozen=True, slots=True)
class Known:
    """What was entered of a mass.

    Attributes
    ----------
    mass_mg : int
        Net mass, corrections included, mg, without sign.
    how : {"weighed", "counted", "estimated"}
        How it became known.
    tare_mg : int
        Tare that was taken off, mg; 0 where none was.
    scale : Scale or None
        The scale, where one was named.
    count : int or None
        Number of pieces.
    sample_mg : tuple of int
        Masses of the sample's bottles, mg; empty where there is none.
    u_mg : float or None
        Standard uncertainty that was stated, mg.
    """

    mass_mg: int
    how: str = "weighed"
    tare_mg: int = 0
    scale: Scale | None = None
    count: int | None = None
    sample_mg: tuple[int, ...] = ()
    u_mg: float | None = None


@dataclass(frozen=True, slots=True)
class Sureness:
    """Standard uncertainties of gross and tare, mg, and a key of ``BASES`` for what they rest on.

    The mass of a count or an estimate has no tare: all of it is in ``u_gross_mg``.
    """

    u_gross_mg: float
    u_tare_mg: float
    basis: str

    @property
    def u_mg(self) -> float:
        """Standard uncertainty of the net mass, mg."""
        return math.hypot(self.u_gross_mg, self.u_tare_mg)


def sureness(known: Known, scales: Sequence[Scale], assumed: Assumed) -> Sureness:
    """Judge how sure a mass is.

    Parameters
    ----------
    known : Known
        What was entered.
    scales : sequence of Scale
        Those of the workshop, for a mass whose scale was not named.
    assumed : Assumed
        What the workshop assumes where nothing better is known.

    Returns
    -------
    Sureness
        A stated uncertainty first; else by how the mass became known [1]_: a weighed one by its
        scale in service [2]_, a counted one by its sample, an estimate by an assumed share.

    Raises
    ------
    ValueError
        For a negative mass or a scale that makes no sense.

    Examples
    --------
    >>> bench = Scale("bench", "III", 1_000, 15_000_000)
    >>> usual = Assumed(counted_share=0.1, estimated_share=0.2, interval_mg=5_000)
    >>> one = sureness(Known(850_000, tare_mg=150_000, scale=bench), [bench], usual)
    >>> round(one.u_gross_mg, 1), round(one.u_tare_mg, 1), one.basis
    (1190.2, 645.5, 'scale')
    >>> sureness(Known(2_000_000, "estimated"), [bench], usual).u_mg
    400000.0
    """
    if known.u_mg is not None:
        return Sureness(known.u_mg, 0.0, "stated")
    if known.how == "counted":
        return _counted(known, scales, assumed)
    if known.how == "estimated":
        return Sureness(_share(known.mass_mg, assumed.estimated_share), 0.0, "assumed share")
    gross_mg = known.mass_mg + known.tare_mg
    scale, basis = _scale_for(gross_mg, known.scale, scales, assumed)
    return _kept_sureness(
        _reading_u_mg(gross_mg, scale),
        _reading_u_mg(known.tare_mg, scale) if known.tare_mg else 0,
        basis,
    )


_kept_sureness = lru_cache(maxsize=1024, typed=True)(Sureness)
"""The same object for the same sureness: a scale has few, a year's book 100,000 readings."""


def _reading_u_mg(load_mg: float, scale: Scale) -> float:
    return reading(load_mg, scale.interval_mg, scale.accuracy_class).u


def _share(mass_mg: int, share: float) -> float:
    return estimated_mass(mass_mg, share).u


def _counted(known: Known, scales: Sequence[Scale], assumed: Assumed) -> Sureness:
    if known.count and len(known.sample_mg) > 1:
        mean_mg = sum(known.sample_mg) / len(known.sample_mg)
        scale, _ = _scale_for(mean_mg, known.scale, scales, assumed)
        common_mg = _reading_u_mg(mean_mg, scale)
        return Sureness(counted_mass(known.count, known.sample_mg, common_mg).u, 0.0, "sample")
    return Sureness(_share(known.mass_mg, assumed.counted_share), 0.0, "assumed share")


def _scale_for(
    load_mg: float, named: Scale | None, scales: Sequence[Scale], assumed: Assumed
) -> tuple[Scale, str]:
    if named is not None:
        return named, "scale"
    if not scales:
        return assumed.scale, "no scale"
    fitting = [scale for scale in scales if scale.capacity_mg >= load_mg] or scales
    return max(fitting, key=lambda scale: (scale.interval_mg, scale.name)), "assumed scale"


def doubts(known: Known) -> tuple[WeighingWarning, ...]:
    """Say what is doubtful about a mass that was weighed on a named scale.

    Parameters
    ----------
    known : Known
        What was entered.

    Returns
    -------
    tuple of WeighingWarning
        As ``recycling.calc.weighing.weighing_warnings`` says of the gross reading; empty where
        no scale was named or the mass was not weighed. What is wrong with the scale itself is
        left to ``scale_doubts``.

    Raises
    ------
    ValueError
        For a negative mass or a scale that makes no sense.

    Examples
    --------
    >>> bench = Scale("bench", "III", 1_000, 6_000_000)
    >>> [doubt.code for doubt in doubts(Known(7_000_500, scale=bench))]
    ['above_capacity', 'between_steps']
    """
    scale = known.scale
    if scale is None or known.how != "weighed":
        return ()
    gross_mg = known.mass_mg + known.tare_mg
    return tuple(doubt for doubt in _warnings(gross_mg, scale) if doubt.code != OF_THE_SCALE)


def scale_doubts(scale: Scale) -> tuple[WeighingWarning, ...]:
    """Say what cannot be as entered for a scale: more intervals than its class allows [2]_.

    Raises ValueError for an unknown class, or an interval or capacity that is not positive.

    Examples
    --------
    >>> [one.code for one in scale_doubts(Scale("floor", "III", 1_000, 15_000_000))]
    ['beyond_class']
    """
    return tuple(one for one in _warnings(scale.capacity_mg, scale) if one.code == OF_THE_SCALE)


def _warnings(gross_mg: int, scale: Scale) -> tuple[WeighingWarning, ...]:
    return weighing_warnings(gross_mg, scale.interval_mg, scale.accuracy_class, scale.capacity_mg)


def left_over(parts: Iterable[tuple[int, int, Sureness, int]]) -> Measured:
    """Add up what went into a run and came out of it, with its standard uncertainty.

    Parameters
    ----------
    parts : iterable of (sign, mass, sureness, tare)
        +1 for what went in and −1 for what came out; mass and tare in mg. Equal tares are one
        container, weighed empty once.

    Returns
    -------
    Measured
        Unaccounted mass, mg: u² = Σ u_gross² + Σ (net uses · u_tare)², as
        ``shared.measured.total_with_shared_tares`` has it [1]_.

    Raises
    ------
    ValueError
        If a sign is neither +1 nor −1.

    Examples
    --------
    >>> crate = Sureness(3.0, 4.0, "scale")
    >>> left_over([(1, 2_000, crate, 500), (-1, 900, crate, 500)])
    Measured(value=1100, u=4.242640687119285)
    """
    value, squares = 0, 0.0
    tares: dict[tuple[int, float], int] = {}
    for sign, mass_mg, sure, tare_mg in parts:
        if sign not in (1, -1):
            raise ValueError(f"a sign is +1 or -1, not {sign!r}")
        value += sign * mass_mg
        squares += sure.u_gross_mg**2
        key = (tare_mg, sure.u_tare_mg)
        tares[key] = tares.get(key, 0) + sign
    squares += sum((uses * u_mg) ** 2 for (_, u_mg), uses in tares.items())
    return Measured(value, math.sqrt(squares))
