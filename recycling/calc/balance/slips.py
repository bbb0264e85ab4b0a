"""Which slip would explain a run outside its band, how likely each is, and whether one leads.

Each slip is a hypothesis with a price: ln of how often its kind is at work, less ln of the number
of ways in which it could be made here, plus ln of how usual the run's loss would be without it,
plus the ln of how usual every figure would be. Material lost and *something else* compete on the
same terms. A figure stands in every run that it feeds: a lot that was taken whole carries a slip
of its own run, or of another draw from it, into this one, and both runs are looked at.

Sources
-------
.. [1] E. T. Jaynes, Probability Theory: The Logic of Science (2003), chapter 4: odds of several
   hypotheses by the same data.

Prices, the scale's step as evidence, and the lead are this project's own: default, not checked.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from recycling.calc.balance.slip_changes import (
    LEFT_OUT,
    LOST,
    OTHER,
    PRIOR,
    TWICE,
    Change,
    Typed,
    changes,
    on_step,
)
from recycling.calc.balance.slip_lines import Explained, Guess, explained
from recycling.calc.balance.usual_loss import Usual
from recycling.calc.balance.usual_sizes import UNKNOWN, Kind, Size

OFF_STEP = 0.05
"""How likely a figure is that the scale could not have shown."""

_T5 = 8 / (3 * math.sqrt(5) * math.pi)
_GRID = 40

SizeOf = Callable[[Kind], Size | None]


@dataclass(frozen=True)
class Run:
    """A run as slips are looked for in it.

    Attributes
    ----------
    figures : tuple of Typed
        All of it.
    usual : Usual or None
        What such runs lose; None for one that closes nothing, such as a collection.
    u_mg : float
        Standard uncertainty of what is left over, mg.
    """

    figures: tuple[Typed, ...]
    usual: Usual | None = None
    u_mg: float = 0.0


@dataclass(frozen=True)
class Elsewhere:
    """A figure of an earlier run that a lot taken whole here rests on: `draw` follows it.

    ``sign`` is +1 for the figure that made the lot, −1 for one that was taken from it before.
    """

    figure: Typed
    run: Run
    draw: Hashable
    sign: int


def explain(
    run: Run,
    tares_mg: Mapping[str, float],
    size_of: SizeOf,
    elsewhere: Sequence[Elsewhere] = (),
    may_miss: Sequence[Kind] = (),
) -> Explained:
    """Weigh every explanation of a run that lies outside its band.

    Parameters
    ----------
    run : Run
        The run; its `usual` is that of the runs before it.
    tares_mg : mapping of str to float
        Known containers and their tares, mg.
    size_of : callable
        How large figures of a kind are here.
    elsewhere : sequence of Elsewhere
        Figures of earlier runs that lots taken whole here rest on.
    may_miss : sequence of tuple
        Kinds of figures that such runs give and this one does not, or not once more.

    Raises
    ------
    ValueError
        For a run without what is usual of it.

    Examples
    --------
    >>> usual = Usual(5_000, 0.02, (0, 0, 0), 0.5, runs=40, of_stage=40)
    >>> bottles = Typed(1, "in", ("sort", "in", "bottles"), 8_700_000)
    >>> clean = Typed(2, "out", ("sort", "out", "clean"), 7_350_000)
    >>> sorting = Run((bottles, clean), usual, 2_000)
    >>> found = explain(sorting, {"crate": 1_200_000}, lambda kind: None)
    >>> found.slips[0].kind, found.slips[0].keys, found.slips[0].right_mg
    ('tare forgotten', (1,), 7500000.0)
    """
    if run.usual is None:
        raise ValueError("a run that closes nothing needs no explanation")
    weigher = _Weigher(run, tares_mg, size_of, elsewhere, may_miss)
    guesses = list(weigher.guesses())
    top = max(guess.score for guess in guesses)
    weights = [math.exp(guess.score - top) for guess in guesses]
    whole = math.fsum(weights)
    return explained([(one, weight / whole) for one, weight in zip(guesses, weights, strict=True)])


class _Weigher:
    """Scores every guess about one run."""

    def __init__(
        self,
        run: Run,
        tares_mg: Mapping[str, float],
        size_of: SizeOf,
        elsewhere: Sequence[Elsewhere],
        may_miss: Sequence[Kind],
    ) -> None:
        assert run.usual is not None
        self.run, self.usual, self.tares_mg = run, run.usual, tares_mg
        self.size_of, self.elsewhere, self.may_miss = size_of, elsewhere, may_miss
        self.as_typed = {one.key: one.net_mg for one in run.figures}
        self.base = self._fits(run, self.as_typed)
        self.equal = list(self._equal())
        self.coincidence = sum((len(same) - 1) * _by_chance(same[-1]) for same in self.equal)

    def guesses(self) -> Iterator[Guess]:
        found = [*self._changed_here(), *self._changed_elsewhere(), *self._entered_twice()]
        found += self._left_out()
        ways = Counter(guess.kind for guess in found)
        for guess in found:
            price = math.log(PRIOR[guess.kind]) - math.log(ways[guess.kind])
            yield replace(guess, score=guess.score + price)
        yield self._lost()
        yield self._other()

    def _left_over(self, net_mg: Mapping[Hashable, float], run: Run) -> tuple[float, float]:
        went_in = sum(net_mg[one.key] for one in run.figures if one.side == "in")
        came_out = sum(net_mg.get(one.key, 0.0) for one in run.figures if one.side == "out")
        return went_in - came_out, went_in

    def _fits(self, run: Run, net_mg: Mapping[Hashable, float]) -> float:
        """Say how usual a run would be with these figures, as ln of a density."""
        left_mg, went_in_mg = self._left_over(net_mg, run)
        score = 0.0
        if run.usual is not None:
            if went_in_mg <= 0:
                return -math.inf
            score = math.log(_loss_density(left_mg, went_in_mg, run.usual, run.u_mg))
        beside: dict[Kind, list[float]] = defaultdict(list)
        for one in run.figures:
            if one.key in net_mg:
                beside[one.kind].append(net_mg[one.key])
        for one in run.figures:
            if one.key in net_mg:
                mass_mg = net_mg[one.key]
                if mass_mg <= 0:
                    if one.whole and one.net_mg <= 0:
                        continue
                    return -math.inf
                score += self._size(one.kind, mass_mg, went_in_mg, beside[one.kind])
        return score

    def _size(self, kind: Kind, mass_mg: float, went_in_mg: float, same: Sequence[float]) -> float:
        size = self.size_of(kind)
        if size is None:
            return math.log(UNKNOWN)
        others = list(same)
        if mass_mg in others:
            others.remove(mass_mg)
        return math.log(size.density(mass_mg, went_in_mg, others))

    def _changed_here(self) -> Iterator[Guess]:
        for one in self.run.figures:
            if not one.open_to_slips:
                continue
            for change in changes(one, self.tares_mg):
                net_mg = {**self.as_typed, one.key: change.right_mg}
                fits = self._fits(self.run, net_mg)
                if fits > -math.inf:
                    left_mg, _ = self._left_over(net_mg, self.run)
                    score = fits + _reading(one, change) + self._coincidence_without(one.key)
                    yield _guess(one, change, score, left_mg)

    def _changed_elsewhere(self) -> Iterator[Guess]:
        """Change a figure of an earlier run; what was taken whole here follows it."""
        for there in self.elsewhere:
            one = there.figure
            if not one.open_to_slips:
                continue
            typed = {figure.key: figure.net_mg for figure in there.run.figures}
            before = self._fits(there.run, typed)
            for change in changes(one, self.tares_mg):
                moved_mg = there.sign * (change.right_mg - one.net_mg)
                net_mg = {**self.as_typed, there.draw: self.as_typed[there.draw] + moved_mg}
                here = self._fits(self.run, net_mg)
                after = self._fits(there.run, {**typed, one.key: change.right_mg})
                if min(here, after) > -math.inf:
                    left_mg, _ = self._left_over(net_mg, self.run)
                    score = here + after - before + _reading(one, change) + self.coincidence
                    yield _guess(one, change, score, left_mg)

    def _entered_twice(self) -> Iterator[Guess]:
        for same in self.equal:
            gone = same[-1]
            rest = tuple(one for one in self.run.figures if one.key != gone.key)
            kept = replace(self.run, figures=rest)
            fits = self._fits(kept, {one.key: one.net_mg for one in rest})
            if fits > -math.inf:
                left_mg = self._left_over(self.as_typed, self.run)[0] - gone.sign * gone.net_mg
                score = fits + self.coincidence - _by_chance(gone) + math.log(len(same) - 1)
                keys = tuple(one.key for one in reversed(same))
                yield Guess(TWICE, score, keys, 0.0, left_mg, gone.side)

    def _equal(self) -> Iterator[list[Typed]]:
        """Figures that are the same to the last digit, of one kind, and of one lot if taken."""
        found: dict[Hashable, list[Typed]] = defaultdict(list)
        for one in self.run.figures:
            if one.open_to_slips and one.net_mg > 0:
                lot = one.lot if one.side == "in" else None
                found[one.side, one.kind, lot, one.gross_mg, one.tare_mg].append(one)
        return (same for same in found.values() if len(same) > 1)

    def _coincidence_without(self, key: Hashable) -> float:
        """What the equal figures cost once one of them is another: as if by chance, as ln."""
        for same in self.equal:
            if any(one.key == key for one in same):
                return self.coincidence - _by_chance(same[-1])
        return self.coincidence

    def _left_out(self) -> Iterator[Guess]:
        """Add an output that such runs give: what it may weigh, times how usual the rest would be.

        What it weighs is summed over all that the band allows.
        """
        left_mg, went_in_mg = self._left_over(self.as_typed, self.run)
        mean_mg = self.usual.mean_mg(went_in_mg)
        sd_mg = self.usual.sd_mg(went_in_mg, self.run.u_mg)
        for kind in self.may_miss:
            size = self.size_of(kind)
            if size is None:
                continue
            same = [self.as_typed[one.key] for one in self.run.figures if one.kind == kind]
            total = 0.0
            for at in range(-_GRID, _GRID + 1):
                rest_mg = mean_mg + 6 * sd_mg * at / _GRID
                mass_mg = left_mg - rest_mg
                if mass_mg > 0:
                    of_rest = _t5((rest_mg - mean_mg) / sd_mg) / sd_mg
                    total += size.density(mass_mg, went_in_mg, same) / mass_mg * of_rest
            total *= 6 * sd_mg / _GRID
            if total > 0:
                score = self._beside_the_loss() + math.log(total) + self.coincidence
                missing_mg = max(left_mg - mean_mg, 1.0)
                yield Guess(LEFT_OUT, score, (), missing_mg, mean_mg, side="out", left_out=kind)

    def _beside_the_loss(self) -> float:
        """How usual the figures are as typed, apart from what is left over, as ln."""
        left_mg, went_in_mg = self._left_over(self.as_typed, self.run)
        return self.base - math.log(_loss_density(left_mg, went_in_mg, self.usual, self.run.u_mg))

    def _lost(self) -> Guess:
        """Material lost: even over the logarithm of what may be, from sd to all that went in."""
        left_mg, density = self._unexplained((1,))
        score = self._beside_the_loss() + self.coincidence + math.log(PRIOR[LOST] * density)
        return Guess(LOST, score, (), None, left_mg)

    def _other(self) -> Guess:
        left_mg, density = self._unexplained((1, -1))
        score = self._beside_the_loss() + self.coincidence + math.log(PRIOR[OTHER] * density)
        return Guess(OTHER, score, (), None, left_mg)

    def _unexplained(self, signs: tuple[int, ...]) -> tuple[float, float]:
        """Density of what is left over if it is the usual and one thing more, up or down."""
        left_mg, went_in_mg = self._left_over(self.as_typed, self.run)
        mean_mg = self.usual.mean_mg(went_in_mg)
        sd_mg = self.usual.sd_mg(went_in_mg, self.run.u_mg)
        reach = math.log(max(went_in_mg / sd_mg, math.e))
        total = 0.0
        for sign in signs:
            for at in range(_GRID):
                size_mg = sd_mg * math.exp(reach * (at + 0.5) / _GRID)
                z = (left_mg - sign * size_mg - mean_mg) / sd_mg
                total += _t5(z) / sd_mg / _GRID / len(signs)
        return left_mg, max(total, 1e-300)


def _by_chance(one: Typed) -> float:
    """How likely a figure equals another to the step, beside how usual it is, as ln."""
    return math.log(min((one.step_mg or 1_000.0) / one.net_mg, 1.0))


def _guess(one: Typed, change: Change, score: float, left_mg: float) -> Guess:
    return Guess(
        change.kind,
        score,
        (one.key,),
        change.right_mg,
        left_mg,
        one.side,
        change.container,
    )


def _reading(one: Typed, change: Change) -> float:
    """Evidence of the scale's step, as ln: what can be shown, and of how many figures it is one.

    A figure ten times too large is one of ten times as many as the right one; a tare leaves the
    reading as it is.
    """
    step_mg = one.step_mg
    if step_mg is None or one.net_mg <= 0:
        return 0.0
    typed, right = on_step(one.gross_mg, step_mg), on_step(change.gross_mg, step_mg)
    if not change.same_step:
        return 0.0 if typed else -math.log(OFF_STEP)
    score = 0.0 if change.container else math.log(one.net_mg / change.right_mg)
    return score + math.log(OFF_STEP) * (typed - right)


def _t5(z: float) -> float:
    """Density of Student's t of five degrees."""
    return _T5 * (1 + z * z / 5) ** -3


def _loss_density(left_mg: float, went_in_mg: float, usual: Usual, u_mg: float) -> float:
    sd_mg = usual.sd_mg(went_in_mg, u_mg)
    return _t5((left_mg - usual.mean_mg(went_in_mg)) / sd_mg) / sd_mg
