"""Runs of a workshop judged one after another, each by those that ended before it."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field

from recycling.calc.balance.slip_changes import Typed
from recycling.calc.balance.slips import Elsewhere, Explained, Run, explain
from recycling.calc.balance.usual_loss import (
    RUNS_KEPT,
    STATES,
    Band,
    First,
    Past,
    Usual,
    band,
    first_for,
    learn,
    state_of,
)
from recycling.calc.balance.usual_sizes import Kind, Size, Sizes

Moved = tuple[Typed, "Closed", Hashable, int]
"""A figure of an earlier run, that run, the draw here that follows it, and +1 or −1."""

OFTEN = 0.5
"""Kinds of outputs that this part of the stage's runs give, or more, may have been left out."""


@dataclass(frozen=True)
class Closed:
    """A run that ended: where it was done, all its figures, and how sure they are together."""

    key: Hashable
    stage: str
    machine: str
    polymer: str
    figures: tuple[Typed, ...]
    u_mg: float = 0.0
    closes: bool = True

    @property
    def went_in_mg(self) -> float:
        """What went in, mg."""
        return sum(one.net_mg for one in self.figures if one.side == "in")

    @property
    def unaccounted_mg(self) -> float:
        """What went in and did not come out, mg."""
        return sum(one.sign * one.net_mg for one in self.figures)

    @property
    def past(self) -> Past:
        """It as one of the runs that a band is learnt from."""
        return Past(self.went_in_mg, self.unaccounted_mg, self.u_mg, self.machine, self.polymer)


@dataclass(frozen=True)
class Judgement:
    """How a run closes by what is usual: its band, its state, and why where it lies outside."""

    band: Band
    unaccounted_mg: float
    state: str
    explained: Explained | None = None

    @property
    def flagged(self) -> bool:
        """Whether it is to be looked at."""
        return self.state in STATES[2:]


@dataclass
class _Stage:
    past: list[Past] = field(default_factory=list)
    runs: list[Closed] = field(default_factory=list)
    sizes: dict[frozenset[Hashable], Sizes] = field(default_factory=dict)


class Memory:
    """What a workshop's earlier runs teach, told in the order in which they ended."""

    def __init__(self, firsts: Mapping[str, First] | None = None) -> None:
        self.firsts = firsts or {}
        self._stages: dict[str, _Stage] = defaultdict(_Stage)

    def see(self, run: Closed) -> None:
        """Remember a run."""
        stage = self._stages[run.stage]
        stage.runs = [*stage.runs[1 - RUNS_KEPT :], run]
        stage.sizes = {}
        if run.closes and run.went_in_mg > 0:
            stage.past = [*stage.past[1 - RUNS_KEPT :], run.past]

    def usual(self, run: Closed) -> Usual:
        """Say what such a run usually loses, by the runs seen so far."""
        first = self.firsts.get(run.stage) or first_for(run.stage)
        return learn(self._stages[run.stage].past, run.machine, run.polymer, first)

    def sizes(self, stage: str, without: Set[Hashable] = frozenset()) -> Sizes:
        """How large the figures of a stage's runs were so far, `without` those that are doubted."""
        kept = self._stages[stage].sizes
        out = without & {run.key for run in self._stages[stage].runs}
        if frozenset(out) not in kept:
            kept[frozenset(out)] = sizes = Sizes()
            for run in self._stages[stage].runs:
                if run.key not in out:
                    see_sizes(sizes, run)
        return kept[frozenset(out)]

    def may_miss(self, run: Closed) -> list[Kind]:
        """Kinds of outputs that such runs give, and this one not, or could once more."""
        return may_miss(run, self._stages[run.stage].runs)

    def judge(
        self,
        run: Closed,
        tares_mg: Mapping[str, float],
        elsewhere: Sequence[Moved] = (),
    ) -> Judgement:
        """Judge a run by those seen so far; `elsewhere` as `slips.Elsewhere` has it."""
        usual = self.usual(run)
        found = band(usual, run.went_in_mg, run.u_mg)
        state = state_of(run.unaccounted_mg, found)
        if state in STATES[:2]:
            return Judgement(found, run.unaccounted_mg, state)
        doubted = {other.key for _, other, _, _ in elsewhere}
        explained = explain(
            Run(run.figures, usual, run.u_mg),
            tares_mg,
            lambda kind: self.size_of(kind, doubted),
            [
                Elsewhere(
                    figure,
                    Run(other.figures, self.usual(other) if other.closes else None, other.u_mg),
                    draw,
                    sign,
                )
                for figure, other, draw, sign in elsewhere
            ],
            self.may_miss(run),
        )
        return Judgement(found, run.unaccounted_mg, state, explained)

    def size_of(self, kind: Kind, without: Set[Hashable] = frozenset()) -> Size | None:
        """How large a kind of figure is here; where its place was never seen, anywhere."""
        sizes = self.sizes(kind[0], without)
        return sizes.of(kind) or sizes.of(kind[:3])


def see_sizes(sizes: Sizes, run: Closed) -> None:
    """Remember the figures of a run by their kind, with its place and without."""
    pieces: dict[Kind, list[float]] = defaultdict(list)
    for one in run.figures:
        for key in {one.kind, one.kind[:3]}:
            sizes.see(key, one.net_mg, run.went_in_mg)
            pieces[key].append(one.net_mg)
    for key, masses in pieces.items():
        sizes.see_beside(key, masses)


def may_miss(run: Closed, before: Sequence[Closed]) -> list[Kind]:
    """Kinds of outputs that half of the runs before gave and this one not, or several of."""
    given = Counter(_outputs(run))
    seen: Counter[Kind] = Counter()
    several: Counter[Kind] = Counter()
    for other in before:
        counts = Counter(_outputs(other))
        seen.update(counts.keys())
        several.update(kind for kind, count in counts.items() if count > 1)
    least = OFTEN * len(before)
    return [kind for kind in seen if (seen[kind] >= least and not given[kind]) or several[kind]]


def _outputs(run: Closed) -> Iterator[Kind]:
    return (one.kind[:3] for one in run.figures if one.side == "out")
