"""How sure a mass in the book is: from its scale, its sample, what was stated, or an assumption.

Sources
-------
.. [1] JCGM 100:2008 (GUM), 4.3.7, 5.1.2, and 5.2.2 for a tare that enters more than once.
.. [2] OIML R 76-1:2006, table 6 and 3.5.2, by way of ``recycling.calc.balance.weighing``.

What is assumed where nothing better is known is handed in by the caller: it is a setting of the
workshop, shown with its source beside every figure that rests on it, and gives way to a named
scale, a sample or a stated uncertainty.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from recycling.calc.balance.shared_errors import (
    COUNT_RULE,
    HEEL_RULE,
    NOT_NAMED,
    RULE,
    SCALE,
    SCATTER,
    STATED,
    counted_mass,
    guessed,
    reading_parts,
    tare_part,
)
from recycling.calc.balance.weighing import LARGEST_LOAD_E, WeighingWarning, weighing_warnings
from shared.measured import RECTANGULAR, Measured, Parts, Source, combined

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
    sample : str
        Name of that sample.
    number : int
        Of the figure, by which what is its own error is known.
    by : int
        Of the person who entered it, whose rules of thumb err together; 0 where that is not known.
    heel : bool
        Whether it is what stays in a barrel.
    place : str
        Where it was weighed, as the stage and whether it went in or came out there.
    """

    mass_mg: int
    how: str = "weighed"
    tare_mg: int = 0
    scale: Scale | None = None
    count: int | None = None
    sample_mg: tuple[int, ...] = ()
    u_mg: float | None = None
    sample: str = ""
    number: int = 0
    by: int = 0
    heel: bool = False
    place: str = ""


@dataclass(frozen=True, slots=True)
class Sureness:
    """What makes a net mass uncertain, by source, mg; a key of ``BASES`` for what says so."""

    parts: Parts
    basis: str

    @property
    def u_mg(self) -> float:
        """Standard uncertainty of the net mass, mg."""
        return math.hypot(*self.parts.values())

    def of(self, mass_mg: float) -> Measured:
        """Give the mass with its sources, mg."""
        return Measured.of(mass_mg, self.parts)


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
    >>> [(source.kind, round(part, 1)) for source, part in one.parts.items()], one.basis
    ([('scale', 1154.7), ('steps', 288.7), ('tare', -645.5)], 'scale')
    >>> sureness(Known(2_000_000, "estimated"), [bench], usual).u_mg
    400000.0
    """
    if known.u_mg is not None:
        return Sureness({Source(STATED, known.number): known.u_mg}, "stated")
    if known.how == "counted":
        return _counted(known, scales, assumed)
    if known.how == "estimated":
        whose = (HEEL_RULE, known.number) if known.heel else (RULE, known.by)
        share = assumed.estimated_share
        return Sureness(guessed(*whose, known.mass_mg, share), "assumed share")
    gross_mg = known.mass_mg + known.tare_mg
    scale, basis = _scale_for(gross_mg, known.scale, scales, assumed)
    rules = scale.interval_mg, scale.accuracy_class, _whose(known, scale, scales)
    parts = reading_parts(gross_mg, *rules, known.number)
    if known.tare_mg:
        parts |= _kept_tare(known.tare_mg, *rules)
    return Sureness(parts, basis)


_kept_tare = lru_cache(maxsize=1024)(tare_part)


def _counted(known: Known, scales: Sequence[Scale], assumed: Assumed) -> Sureness:
    if known.count and len(known.sample_mg) > 1:
        sample = (known.sample_mg, _bottle_error(known, scales, assumed))
        mass = counted_mass(known.count, *sample, known.sample, known.number)
        return Sureness(mass.parts, "sample")
    share = assumed.counted_share
    return Sureness(guessed(COUNT_RULE, known.by, known.mass_mg, share), "assumed share")


def sample_mean(known: Known, scales: Sequence[Scale], assumed: Assumed) -> Measured:
    """Mean mass of a sample's bottles, mg: their scatter over √m, and the scale's error.

    `known` names the sample of two bottles or more, and its scale. Raises ValueError as
    `sureness` does.

    Examples
    --------
    >>> fine = Scale("fine", "III", 100, 300_000)
    >>> known = Known(0, "counted", scale=fine, sample_mg=(24_000, 26_000, 25_000, 25_000))
    >>> sample_mean(known, [fine], Assumed(0.1, 0.2, 5_000)).value
    25000.0
    """
    error = _bottle_error(known, scales, assumed)
    one = counted_mass(1, known.sample_mg, error, known.sample)
    kept = {source: part for source, part in one.parts.items() if source.kind != SCATTER}
    return Measured.of(one.value, kept)


def _bottle_error(known: Known, scales: Sequence[Scale], assumed: Assumed) -> Measured:
    """Give the scale's error in the mean of a sample, mg; its steps are in the bottles' scatter.

    Where no scale was named, it is the coarsest one that could have shown these masses. Where no
    scale is set up, the sample is taken as one weighing of all its bottles, with the error that a
    reading of the assumed scale has, and not more than a count without a sample.
    """
    bottles = len(known.sample_mg)
    mean_mg = sum(known.sample_mg) / bottles
    able = [one for one in scales if all(mass % one.interval_mg == 0 for mass in known.sample_mg)]
    scale, basis = _scale_for(mean_mg, known.scale, able, assumed)
    named = Source(SCALE, _whose(known, scale, scales), RECTANGULAR)
    rules = scale.interval_mg, scale.accuracy_class, str(named.name)
    error_mg = reading_parts(mean_mg, *rules, 0)[named]
    if basis == "no scale":
        error_mg = min(error_mg / bottles, assumed.counted_share * mean_mg)
    return Measured.of(0.0, {named: error_mg})


def _whose(known: Known, scale: Scale, scales: Sequence[Scale]) -> str:
    """Name the scale, the only one there is also where none was named; else where it stands."""
    if known.scale is not None or len(scales) == 1:
        return scale.name
    return NOT_NAMED + known.place


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
        As ``recycling.calc.balance.weighing.weighing_warnings`` says of the gross reading; empty
        where no scale was named or the mass was not weighed. What is wrong with the scale itself is
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


def left_over(parts: Iterable[tuple[int, int, Sureness]]) -> Measured:
    """Add up what went into a run and came out of it, with its standard uncertainty.

    Parameters
    ----------
    parts : iterable of (sign, mass, sureness)
        +1 for what went in and −1 for what came out; mass in mg.

    Returns
    -------
    Measured
        Unaccounted mass, mg. What both sides share cancels: the error of one scale, the tare of
        one container [1]_.

    Raises
    ------
    ValueError
        If a sign is neither +1 nor −1.

    Examples
    --------
    >>> crate = Source("tare", "crate")
    >>> full, rest = (Sureness({Source("steps", n): 3.0, crate: 4.0}, "scale") for n in (1, 2))
    >>> left_over([(1, 2_000, full), (-1, 900, rest)])
    Measured(value=1100, u=4.242640687119285)
    """
    listed = list(parts)
    if wrong := [sign for sign, _, _ in listed if sign not in (1, -1)]:
        raise ValueError(f"a sign is +1 or -1, not {wrong[0]!r}")
    value = sum(sign * mass_mg for sign, mass_mg, _ in listed)
    return combined(value, ((sure.of(mass_mg), float(sign)) for sign, mass_mg, sure in listed))
