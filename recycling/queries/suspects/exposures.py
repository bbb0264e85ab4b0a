"""How much each spool was exposed to each candidate, through everything it came through."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from recycling.calc.suspects.exposure import Shares, listed_shares
from recycling.calc.suspects.passage import Drawn, Passing, carried, of_rows
from recycling.models import Lot
from recycling.queries.lots.run_paths import Way, in_chunks, way_up
from recycling.queries.suspects.bands import FIRST_BANDS, Bands
from recycling.queries.suspects.candidates import CandidateBook
from recycling.records.suspects.ranking import KINDS, Candidate


@dataclass(frozen=True, eq=False)
class Exposures:
    """Shares of lots in candidates: row and column stand for ``lots`` and ``candidates``."""

    lots: tuple[int, ...]
    candidates: tuple[Candidate, ...]
    shares: Shares


@dataclass(frozen=True, eq=False)
class Traced:
    """The way of lots, its candidates, and what part each run's outputs have of them."""

    way: Way
    book: CandidateBook
    found: dict[int, tuple[np.ndarray, np.ndarray]]

    @cached_property
    def candidates(self) -> tuple[Candidate, ...]:
        """Give the candidates in order of their marks."""
        return self.book.candidates()


def traced(lot_ids: Iterable[int], bands: Bands) -> Traced:
    """Trace lots back at once, settings and times open in bands.

    The caller has made sure that the lots are those of the actor's workshop.
    """
    way = way_up(lot_ids)
    book = CandidateBook(way, bands)
    return Traced(way, book, carried(passings(way, book), len(book)))


def exposures(
    lot_ids: Sequence[int], kinds: Collection[str] = KINDS, bands: Bands = FIRST_BANDS
) -> Exposures:
    """Trace lots back and say what part of each came from or through each candidate.

    The caller has made sure that the lots are those of the actor's workshop.
    """
    makers = _makers(lot_ids)
    return exposed(traced(lot_ids, bands), {lot_id: makers[lot_id] for lot_id in lot_ids}, kinds)


def exposed(back: Traced, makers: Mapping[int, int], kinds: Collection[str] = KINDS) -> Exposures:
    """Say what part of each lot came from or through each candidate; lot id → its run's id."""
    row, mark, share = of_rows(list(makers.values()), back.found)
    wanted = np.array([candidate.kind in kinds for candidate in back.candidates], dtype=bool)
    used = np.zeros(len(wanted), dtype=bool)
    used[mark] = True
    wanted &= used
    number = np.cumsum(wanted) - 1
    if not wanted.all():
        kept = wanted[mark]
        row, mark, share = row[kept], mark[kept], share[kept]
    chosen = tuple(one for one, keep in zip(back.candidates, wanted, strict=True) if keep)
    shares = listed_shares(row, number[mark], share, len(makers), len(chosen))
    return Exposures(tuple(makers), chosen, shares)


def passings(way: Way, book: CandidateBook) -> dict[int, Passing]:
    """Turn a way into runs with their marks."""
    return {
        run_id: Passing(
            tuple(
                Drawn(way.lots[lot_id].maker, mass_mg, book.marks_of_draw(run_id, lot_id))
                for lot_id, mass_mg in draws
            ),
            book.marks_of_run(run_id),
        )
        for run_id, draws in way.draws.items()
    }


def _makers(lot_ids: Iterable[int]) -> dict[int, int]:
    makers: dict[int, int] = {}
    for chunk in in_chunks(lot_ids):
        makers.update(Lot.objects.filter(pk__in=chunk).values_list("pk", "made_by_id"))
    return makers
