"""Which slip would explain a run outside its band, in this run or in an earlier one it rests on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Q

from recycling.calc.balance.judging import Closed, may_miss, see_sizes
from recycling.calc.balance.known_masses import left_over
from recycling.calc.balance.slip_changes import Typed
from recycling.calc.balance.slip_lines import Explained
from recycling.calc.balance.slips import Elsewhere, explain
from recycling.calc.balance.slips import Run as Judged
from recycling.calc.balance.usual_sizes import Kind, Size, Sizes
from recycling.ledger.models import LOT, Posting
from recycling.queries.balance.earlier_runs import (
    Closing,
    EarlierRuns,
    Ended,
    closes_stage,
    kind_of,
)
from recycling.queries.balance.known_masses import Figure, figures_by_run
from shared.measured import Measured


@dataclass(frozen=True)
class Flagged:
    """A run outside its band, its figures, and the uncertainty of what it left over, mg."""

    run: Closing
    figures: list[Figure]
    u_mg: float


@dataclass(frozen=True)
class Explanation:
    """What may have happened to a run, and the figures that its lines name, by posting."""

    explained: Explained
    figures: Mapping[int, Figure]


def explanations(flagged: Sequence[Flagged], earlier: EarlierRuns) -> dict[int, Explanation]:
    """Weigh what may have happened to each of some runs of one workshop, by the run's key."""
    if not flagged:
        return {}
    chains = _Chains(flagged, earlier)
    earlier.read_figures({one.run.stage for one in (*flagged, *chains.others.values())})
    return {one.run.pk: _explanation(one, chains, earlier) for one in flagged}


def _explanation(one: Flagged, chains: _Chains, earlier: EarlierRuns) -> Explanation:
    moment = one.run.ended_at
    assert moment is not None
    tares = earlier.instruments.tares
    typed = _typed(earlier.by_id[one.run.pk], one.figures, tares)
    before = earlier.closed(one.run.stage, moment)
    moved = list(chains.of(one, typed))
    doubted = {chains.figures[int(str(other.figure.key))].row["process_id"] for other in moved}
    sizes: dict[str, Sizes] = {}

    def size_of(kind: Kind) -> Size | None:
        stage = kind[0]
        if stage not in sizes:
            sizes[stage] = Sizes()
            for run in earlier.closed(stage, moment):
                if run.key not in doubted:
                    see_sizes(sizes[stage], run)
        return sizes[stage].of(kind) or sizes[stage].of(kind[:3])

    now = Closed(one.run.pk, one.run.stage, "", "", typed)
    explained = explain(
        Judged(typed, earlier.usual(one.run), one.u_mg),
        {name: float(tare_mg) for name, tare_mg in tares.items()},
        size_of,
        moved,
        may_miss(now, before),
    )
    own = {figure.row["pk"]: figure for figure in one.figures}
    return Explanation(explained, chains.figures | own)


class _Chains:
    """Figures of earlier runs that lots which were taken whole here rest on."""

    def __init__(self, flagged: Sequence[Flagged], earlier: EarlierRuns) -> None:
        self.earlier = earlier
        whole = {one.row["account_id"] for run in flagged for one in run.figures if one.by_book}
        self.others: dict[int, Flagged] = {}
        self.figures: dict[int, Figure] = {}
        if whole:
            self._read(whole)

    def _read(self, lots: set[int]) -> None:
        """Read every figure of the runs that took from these lots or gave them."""
        instruments = self.earlier.instruments
        touching = Posting.objects.filter(account_id__in=lots).values("entry__process_id")
        inside = Q(entry__process_id__in=touching)
        found = figures_by_run(instruments.workshop_id, inside, instruments)
        self.earlier.read({listed[0].row["run_stage"] for listed in found.values()}, found)
        for run_id, listed in found.items():
            if run_id in self.earlier.by_id:
                run = self.earlier.by_id[run_id]
                self.others[run_id] = Flagged(run, listed, left_over_of(listed).u)
                self.figures |= {one.row["pk"]: one for one in listed}

    def of(self, one: Flagged, typed: Iterable[Typed]) -> Iterator[Elsewhere]:
        """List what an earlier figure moves here.

        Where a lot was counted since, what was taken is not what is left of those figures, and
        they move nothing.
        """
        for draw in typed:
            if not draw.whole:
                continue
            moved = list(self._before(one, draw))
            left_mg = sum(-found.figure.sign * found.figure.net_mg for found in moved)
            if abs(left_mg - draw.net_mg) < 1:
                yield from moved

    def _before(self, one: Flagged, draw: Typed) -> Iterator[Elsewhere]:
        for other in self.others.values():
            if other.run.pk == one.run.pk:
                continue
            ended = self.earlier.by_id[other.run.pk]
            own = _typed(ended, other.figures, self.earlier.instruments.tares)
            usual = self.earlier.usual(ended) if closes_stage(ended.stage) else None
            judged = Judged(own, usual, other.u_mg)
            for figure in own:
                if figure.lot == draw.lot and self._earlier(figure, draw):
                    yield Elsewhere(figure, judged, draw.key, -figure.sign)

    def _earlier(self, figure: Typed, draw: Typed) -> bool:
        """Whether a figure stood before a lot was taken whole."""
        first, then = (self.figures.get(int(str(one.key))) for one in (figure, draw))
        return (
            bool(first and then and first.row["happened_at"] <= then.row["happened_at"])
            and figure.key != draw.key
        )


def left_over_of(figures: Iterable[Figure]) -> Measured:
    """Say what a closed run left over, mg: all that it took in and did not give.

    A loss below zero is water that was taken up: it went in.
    """
    return left_over((1 if one.mass_mg < 0 else -1, abs(one.mass_mg), one.sure) for one in figures)


def _typed(run: Ended, figures: Sequence[Figure], tares: Mapping[str, int]) -> tuple[Typed, ...]:
    """Take the figures of a run as slips are looked for in them."""
    found = []
    for one in figures:
        row, known = one.row, one.known
        lost = row["kind"] != LOT
        side = "in" if one.mass_mg < 0 else "out"
        taken = [name for name, mass_mg in tares.items() if known.tare_mg == mass_mg]
        found.append(
            Typed(
                row["pk"],
                side,
                kind_of(run, side, row["name"] if lost else row["form"]),
                known.mass_mg + known.tare_mg,
                known.tare_mg,
                tuple(taken),
                known.scale.interval_mg if known.scale else None,
                None if lost else row["account_id"],
                one.by_book,
            )
        )
    return tuple(found)
