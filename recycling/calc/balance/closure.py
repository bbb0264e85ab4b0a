"""Closure of a run: what is left over, whether weighing explains it, and likely slips.

Sources
-------
.. [1] JCGM 100:2008 (GUM), 5.1.2 (combination) and 6.2.1 (coverage factor k = 2).
.. [2] NIST Special Publication 811 (2008), appendix B.8: ounce and pound avoirdupois.

The bounds of 2 u and 3 u and the slips looked for are common practice; the bounds are a setting of
the workshop.
"""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from recycling.calc.guards import not_negative, positive, whole
from shared.measured import Measured, total
from shared.units import MG_PER_UNIT

STATES = ("closed within weighing", "to look at", "open")
"""The states of a run's closure, best first."""

UNITS_MISTAKEN = (("g", "oz"), ("oz", "g"), ("kg", "lb"), ("lb", "kg"))
"""(unit typed, unit that the scale showed)."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """How far from zero, in standard uncertainties, a run may be: closed up to the first.

    Raises ValueError for a first bound that is not positive, or a second one below it.
    """

    within_u: float = 2.0
    open_u: float = 3.0

    def __post_init__(self) -> None:
        positive("within_u", self.within_u)
        if not self.open_u >= self.within_u:
            raise ValueError(f"open_u, {self.open_u}, lies below within_u, {self.within_u}")


COMMON = Bounds()


@dataclass(frozen=True, slots=True)
class Closure:
    """What is unaccounted for in a run, mg; its state; and ``loss``, ``gain`` or ``even``."""

    unaccounted: Measured
    state: str
    direction: str


@dataclass(frozen=True, slots=True)
class Reading:
    """One weighing of a run, as entered.

    Attributes
    ----------
    label : str
        What the run's page calls it.
    side : {"in", "out"}
        Whether it went in, or came out (product, side stream, waste, measured loss).
    gross_mg, tare_mg : float
        As entered, mg; the tare 0 where none was taken off.
    containers : tuple of str
        Containers whose tare was taken off; empty where none.
    typed : str
        The figure as typed, without unit, so that its digits can be looked at; may be empty.
    """

    label: str
    side: str
    gross_mg: float
    tare_mg: float = 0.0
    containers: tuple[str, ...] = ()
    typed: str = ""

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


@dataclass(frozen=True, slots=True)
class Slip:
    """A slip that would explain what is unaccounted for.

    Attributes
    ----------
    kind : str
        ``tare forgotten``, ``tare taken twice``, ``entered twice``, ``digits swapped`` or
        ``unit mistaken``.
    labels : tuple of str
        The readings that it may have happened to.
    effect_mg : float
        What the slip adds to the unaccounted mass, mg.
    left_mg : float
        What stays unaccounted once it is put right, mg.
    sentence : str
        The suspicion in words.
    """

    kind: str
    labels: tuple[str, ...]
    effect_mg: float
    left_mg: float
    sentence: str


def unaccounted(
    inputs: Iterable[Measured], outputs: Iterable[Measured], losses: Iterable[Measured] = ()
) -> Measured:
    """What is left over: r = Σ inputs − Σ outputs − Σ measured losses, mg.

    The parts are independent, u(r) = √Σu² [1]_; where a container was used more than once
    see `shared.measured.total_with_shared_tares`.

    Examples
    --------
    >>> r = unaccounted([Measured(12.50, 0.05)], [Measured(10.80, 0.05)], [Measured(1.10, 0.02)])
    >>> f"{r.value:.2f} ± {2 * r.u:.3f}"
    '0.60 ± 0.147'
    """
    return total(inputs) - total(outputs) - total(losses)


def closure(left_over: Measured, bounds: Bounds = COMMON) -> Closure:
    """Judge what is unaccounted for in a run against its uncertainty.

    Parameters
    ----------
    left_over : Measured
        r and u(r), mg; positive is mass lost, negative is mass gained.
    bounds : Bounds
        Where the states end.

    Returns
    -------
    Closure
        ``closed within weighing`` for |r| ≤ 2u(r), ``to look at`` up to 3u(r), ``open``
        above [1]_, or as `bounds` have it. With u(r) = 0 only an exact zero is closed.

    Examples
    --------
    >>> closure(Measured(600.0, 73.5)).state, closure(Measured(-150.0, 73.5)).direction
    ('open', 'gain')
    """
    size, u = abs(left_over.value), left_over.u
    ends = bounds.within_u * u, bounds.open_u * u
    state = STATES[0] if size <= ends[0] else STATES[1] if size <= ends[1] else STATES[2]
    direction = "even" if size == 0 else "loss" if left_over.value > 0 else "gain"
    return Closure(left_over, state, direction)


def worst_first(closures: Mapping[str, Closure]) -> list[str]:
    """Rank runs, given by name, worst first.

    By state, then by |r|/u(r), then by |r|; runs that tie keep the order of their names.

    Examples
    --------
    >>> worst_first({"A": closure(Measured(1, 1)), "B": closure(Measured(-9, 1))})
    ['B', 'A']
    """

    def badness(name: str) -> tuple[int, float, float]:
        left_over = closures[name].unaccounted
        size = abs(left_over.value)
        ratio = size / left_over.u if left_over.u else math.inf if size else 0.0
        return -STATES.index(closures[name].state), -ratio, -size

    return sorted(sorted(closures), key=badness)


def likely_slips(
    left_over: Measured,
    readings: Sequence[Reading],
    tares_mg: Mapping[str, float] | None = None,
    most_tares: int = 5,
    bounds: Bounds = COMMON,
) -> list[Slip]:
    """Find the slips that would close a run which weighing alone does not.

    Parameters
    ----------
    left_over : Measured
        r and u(r) of the run, mg.
    readings : sequence of Reading
        All weighings of the run.
    tares_mg : mapping of str to float, optional
        Known container → its tare, mg, positive.
    most_tares : int
        Largest multiple of a tare that is tried.
    bounds : Bounds
        Up to where weighing alone explains what is left.

    Returns
    -------
    list of Slip
        Those that leave at most 2u(r) (and never less than 1 mg, the book's step)
        unaccounted, and that themselves weigh more than that; best first. Empty for a run
        that is closed within weighing: nothing there needs an explanation.

    Raises
    ------
    ValueError
        For a tare that is not positive, `most_tares` below one, or a typed figure that is
        no number.

    Examples
    --------
    >>> bag = Reading("bag 1", "in", 8_700_000)
    >>> slips = likely_slips(Measured(1_199_000.0, 2_000.0), [bag], {"blue crate": 1_200_000})
    >>> slips[0].sentence
    'The tare of blue crate may not have been taken off bag 1.'
    """
    whole("most_tares", most_tares, least=1)
    known = dict(tares_mg or {})
    for container, tare_mg in known.items():
        positive(f"the tare of {container}", tare_mg)
    if closure(left_over, bounds).state == STATES[0]:
        return []
    found = [
        *_tare_slips(readings, known, most_tares),
        *_repeat_slips(readings),
        *_swap_slips(readings),
        *_unit_slips(readings),
    ]
    within_mg = max(bounds.within_u * left_over.u, 1.0)
    likely = [
        Slip(kind, labels, effect_mg, left_over.value - effect_mg, sentence)
        for kind, labels, effect_mg, sentence in found
        if abs(effect_mg) > within_mg and abs(left_over.value - effect_mg) <= within_mg
    ]
    return sorted(likely, key=lambda slip: abs(slip.left_mg))


_Found = Iterator[tuple[str, tuple[str, ...], float, str]]


def _listed(labels: Sequence[str]) -> str:
    return " or ".join((", ".join(labels[:-1]), labels[-1])) if len(labels) > 1 else labels[0]


def _tare_slips(readings: Sequence[Reading], tares_mg: dict[str, float], most: int) -> _Found:
    for container, tare_mg in tares_mg.items():
        for sign, side in ((1, "in"), (-1, "out")):
            ours = [r for r in readings if r.side == side]
            for times in range(1, most + 1):
                mass_mg, often = times * tare_mg, "" if times == 1 else f" ({times} of them)"
                bare = tuple(
                    r.label for r in ours if container not in r.containers and r.net_mg >= mass_mg
                )
                if bare:
                    text = f"The tare of {container}{often} may not have been taken off"
                    yield "tare forgotten", bare, sign * mass_mg, f"{text} {_listed(bare)}."
                taken = tuple(r.label for r in ours if container in r.containers)
                if taken:
                    text = f"The tare of {container} may have been taken {times} time"
                    text += f"{'s' if times > 1 else ''} too often off {_listed(taken)}."
                    yield "tare taken twice", taken, -sign * mass_mg, text


def _repeat_slips(readings: Sequence[Reading]) -> _Found:
    seen: dict[tuple[str, float, float], list[Reading]] = {}
    for r in readings:
        seen.setdefault((r.side, r.gross_mg, r.tare_mg), []).append(r)
    for same in seen.values():
        if len(same) > 1:
            labels = tuple(r.label for r in same)
            text = f"{' and '.join(labels)} are the same figure: one may be entered twice."
            yield "entered twice", labels, same[0].sign * same[0].net_mg, text


def _swap_slips(readings: Sequence[Reading]) -> _Found:
    for r in readings:
        text = r.typed.strip().replace(",", ".") or f"{round(r.gross_mg)}".rstrip("0")
        try:
            number = Decimal(text or "0")
        except InvalidOperation:
            raise ValueError(f"the typed figure {r.typed!r} of {r.label} is no number") from None
        for swapped in _swaps(text) if number else ():
            right_mg = r.gross_mg * float(Decimal(swapped) / number)
            if right_mg < r.tare_mg:
                continue
            typed, meant = (
                (text, swapped)
                if r.typed
                else (f"{mass_mg / 1000:.10g} g" for mass_mg in (r.gross_mg, right_mg))
            )
            sentence = f"Two digits of {r.label} may be swapped: {typed} for {meant}."
            yield "digits swapped", (r.label,), r.sign * (r.gross_mg - right_mg), sentence


def _swaps(text: str) -> list[str]:
    places = [i for i, sign in enumerate(text) if sign.isdigit()]
    pairs = [(a, b) for i, a in enumerate(places) for b in places[i + 1 :] if text[a] != text[b]]
    # neighbours first: they are swapped most often, and the ranking keeps this order in ties
    pairs.sort(key=lambda pair: pair[1] - pair[0])
    return [text[:a] + text[b] + text[a + 1 : b] + text[a] + text[b + 1 :] for a, b in pairs]


def _unit_slips(readings: Sequence[Reading]) -> _Found:
    for r in readings:
        for typed, shown in UNITS_MISTAKEN:
            right_mg = r.gross_mg * float(MG_PER_UNIT[shown] / MG_PER_UNIT[typed])
            if right_mg < r.tare_mg:
                continue
            text = f"{r.label} may have been read in {shown} and entered in {typed}."
            yield "unit mistaken", (r.label,), r.sign * (r.gross_mg - right_mg), text
