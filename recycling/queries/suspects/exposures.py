"""How much each spool was exposed to each candidate, through everything it came through."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from recycling.calc.lots.recomposition import Portion
from recycling.calc.lots.share_ranges import share_range
from recycling.calc.suspects.exposure import Shares, listed_shares
from recycling.calc.suspects.passage import NOTHING, carried, of_rows
from recycling.models import Lot
from recycling.queries.lots.run_paths import Way, in_chunks, way_up
from recycling.queries.setup.parameters import Entered
from recycling.queries.suspects.bands import FIRST_BANDS, Bands
from recycling.queries.suspects.candidates import CandidateBook
from recycling.queries.suspects.way_order import gave
from recycling.records.suspects.ranking import KINDS, Candidate


@dataclass(frozen=True, eq=False)
class Exposures:
    """Shares of lots in candidates: row and column stand for ``lots`` and ``candidates``."""

    lots: tuple[int, ...]
    candidates: tuple[Candidate, ...]
    shares: Shares


@dataclass(frozen=True, eq=False)
class Traced:
    """The way of lots, its candidates, and what part each lot on it has of them."""

    way: Way
    book: CandidateBook
    found: dict[int, tuple[np.ndarray, np.ndarray]]
    makers: Mapping[int, int]

    def rests_on(self, lot_id: int) -> str:
        """Say what the shares in one of the lots asked about rest on."""
        return self.book.order.rests_on(self.makers[lot_id])

    def ranges(self, lot_id: int, maker: int) -> dict[int, tuple[float, float]]:
        """Give the least and most share of each mark in a lot, where its order is not known.

        Of marks that come with what was fed; what the run itself puts on knows no order.
        """
        melt = self.book.order.unordered(lot_id, maker)
        if melt is None:
            return {}
        run_id, output_mg = melt
        own = {*self.book.marks_of_run(run_id), *self._put_on(run_id)}
        fed = [(one.mass_mg, self._in_portion(run_id, one)) for one in self.book.order.fed(run_id)]
        marks = {mark for _, shares in fed for mark in shares} - own
        return {
            mark: share_range([(mass, shares.get(mark, 0.0)) for mass, shares in fed], output_mg)
            for mark in marks
        }

    def _put_on(self, run_id: int) -> set[int]:
        return {mark for borne in self.book.borne(run_id).values() for mark in borne}

    def _in_portion(self, run_id: int, one: Portion) -> dict[int, float]:
        numbers, shares = self.found.get(one.lot, NOTHING)
        inside = dict(zip(numbers.tolist(), shares.tolist(), strict=True))
        return inside | dict.fromkeys(self.book.marks_of_portion(run_id, one), 1.0)

    @cached_property
    def candidates(self) -> tuple[Candidate, ...]:
        """Give the candidates in order of their marks."""
        return self.book.candidates()


def traced(makers: Mapping[int, int], bands: Bands, rules: Entered | None = None) -> Traced:
    """Trace lots back at once, settings and times open in bands; lot id → its run's id.

    The caller has made sure that the lots are those of the actor's workshop.
    """
    way = way_up(makers)
    book = CandidateBook(way, bands, rules)
    given = gave([*((lot_id, lot.maker) for lot_id, lot in way.lots.items()), *makers.items()])
    runs = {run_id: book.passing(run_id, given.get(run_id, ())) for run_id in way.draws}
    return Traced(way, book, carried(runs, len(book)), makers)


def exposures(
    lot_ids: Sequence[int], kinds: Collection[str] = KINDS, bands: Bands = FIRST_BANDS
) -> Exposures:
    """Trace lots back and say what part of each came from or through each candidate.

    The caller has made sure that the lots are those of the actor's workshop.
    """
    return exposed(traced(_makers(lot_ids), bands), lot_ids, kinds)


def exposed(back: Traced, lot_ids: Sequence[int], kinds: Collection[str] = KINDS) -> Exposures:
    """Say what part of each lot came from or through each candidate."""
    row, mark, share = of_rows(lot_ids, back.found)
    wanted = np.array([candidate.kind in kinds for candidate in back.candidates], dtype=bool)
    used = np.zeros(len(wanted), dtype=bool)
    used[mark] = True
    wanted &= used
    number = np.cumsum(wanted) - 1
    if not wanted.all():
        kept = wanted[mark]
        row, mark, share = row[kept], mark[kept], share[kept]
    chosen = tuple(one for one, keep in zip(back.candidates, wanted, strict=True) if keep)
    shares = listed_shares(row, number[mark], share, len(lot_ids), len(chosen))
    return Exposures(tuple(lot_ids), chosen, shares)


def _makers(lot_ids: Iterable[int]) -> dict[int, int]:
    makers: dict[int, int] = {}
    for chunk in in_chunks(lot_ids):
        makers.update(Lot.objects.filter(pk__in=chunk).values_list("pk", "made_by_id"))
    return makers
