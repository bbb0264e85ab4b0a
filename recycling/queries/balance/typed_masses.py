"""Every mass that was typed, in one plain statement: only what says how sure it is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from django.db.models import Q

from recycling.calc.balance.known_masses import Known, Sureness
from recycling.ledger.models import LOT
from recycling.ledger.sql import marks, moment, rows
from recycling.models import Weighing
from recycling.queries.balance.counted_masses import counted_masses
from recycling.queries.balance.instruments import Instruments, place_of
from recycling.queries.balance.known_masses import FOLLOWS, Step, left_at
from recycling.stages import COUNTING
from recycling.stages.declaration import LOSSES
from shared.measured import Parts

_READ = f"""
SELECT p.id, p.corrects_id, p.mass_mg, e.process_id, p.account_id, a.kind, e.actor, r.stage,
       l.role, l.count, w.how, w.tare_mg, w.scale_id, w.sample_id, w.u_mg {{more}}
  FROM ledger_posting p
  JOIN ledger_entry e ON e.id = p.entry_id
  JOIN recycling_run r ON r.account_id = e.process_id
  JOIN ledger_account a ON a.id = p.account_id
  LEFT JOIN recycling_lot l ON l.account_id = p.account_id
  LEFT JOIN recycling_weighing w ON w.posting_id = p.id
 WHERE e.book_id = %s AND e.kind NOT IN ({marks(FOLLOWS)}) AND r.state <> 'void'
   AND (a.kind = 'lot' OR a.kind = 'border' AND a.name IN ({marks(LOSSES)})) AND {{where}}
 ORDER BY p.id
"""
_TAKEN_WHOLE = """r.stage NOT IN ({counting}) AND p.account_id IN (
    SELECT taken.account_id FROM ledger_posting taken
      JOIN recycling_weighing how ON how.posting_id = taken.id
      JOIN ledger_account lot ON lot.id = taken.account_id
     WHERE lot.book_id = %s AND how.how = 'by book')"""


class TypedMass(NamedTuple):
    """A typed mass, mg, its corrections added; `sign` is +1 for what went into the run."""

    run_id: int
    lot_id: int
    sign: int
    mass_mg: int
    by_book: bool
    known: Known
    sureness: Sureness


def typed_masses(
    instruments: Instruments, where: str, values: Sequence[Any]
) -> Iterator[TypedMass]:
    """Read them in the order written; `where` chooses by entry (e) and run (r).

    ``lot_id`` is 0 for what was lost. A lot that was taken whole is as sure as all that was
    weighed of it before.
    """
    left = None
    for one in _merged(instruments.workshop_id, where, values):
        pk, _, first_mg, run_id, account_id, kind, by, stage, *said, mass_mg = one
        into_run = kind == LOT and first_mg < 0
        known = instruments.known_of((pk, by, place_of(stage, into_run)), mass_mg, *said)
        by_book = said[2] == Weighing.BY_BOOK
        if by_book:
            left = _left(instruments) if left is None else left
            sure = Sureness(left[pk], "lot")
        else:
            sure = instruments.sureness(known)
        lot_id, sign = account_id if kind == LOT else 0, 1 if into_run else -1
        yield TypedMass(run_id, lot_id, sign, known.mass_mg, by_book, known, sure)


def _merged(
    workshop_id: int, where: str, values: Sequence[Any], more: str = ""
) -> Iterator[tuple[Any, ...]]:
    """Read postings with what their corrections make of them at the end of each."""
    statement = _READ.format(where=where, more=more)
    read = rows(statement, [workshop_id, *FOLLOWS, *LOSSES, *values])
    corrected: dict[int, int] = defaultdict(int)
    for row in read:
        if row[1]:
            corrected[row[1]] += row[2]
    for row in read:
        mass_mg = row[2] + corrected[row[0]] if row[0] in corrected else row[2]
        if mass_mg and not row[1]:
            yield *row, mass_mg


def _left(instruments: Instruments) -> dict[int, Parts]:
    """Say how sure each lot of the workshop is that was taken whole, by posting."""
    book = instruments.workshop_id
    steps: list[Step] = []
    counting = list(COUNTING)
    where = _TAKEN_WHOLE.format(counting=marks(counting))
    for one in _merged(book, where, [*counting, book], ", e.happened_at"):
        pk, _, first_mg, _, lot_id, kind, by, stage, *said, happened_at, mass_mg = one
        sure, into_run = None, kind == LOT and first_mg < 0
        if said[2] != Weighing.BY_BOOK:
            known = instruments.known_of((pk, by, place_of(stage, into_run)), mass_mg, *said)
            sure = instruments.sureness(known)
        steps.append((moment(happened_at), False, pk, lot_id, -1 if into_run else 1, sure))
    return left_at(steps, counted_masses(Q(), instruments))
