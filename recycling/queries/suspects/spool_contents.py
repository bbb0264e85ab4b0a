"""What is in one spool: every candidate on its way with its share, and every deviation."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from math import isnan

from recycling.calc.suspects.priors import USUAL
from recycling.models import Lot
from recycling.queries.balance.known_masses import Instruments
from recycling.queries.lots.holds_in_force import holds_in_force
from recycling.queries.lots.lots import lot_of
from recycling.queries.process.deviations import Told, deviations
from recycling.queries.setup.parameters import entered
from recycling.queries.suspects.bands import bands_by
from recycling.queries.suspects.candidates import MET, CandidateBook
from recycling.queries.suspects.exposures import Traced, traced
from recycling.queries.suspects.ranking import gather, weigh
from recycling.records.actors import Actor
from recycling.records.process.limits_missed import LimitMissed
from recycling.records.suspects.ranking import KINDS, SuspectQuestion, Suspects
from recycling.records.suspects.spool_contents import SpoolContents, SpoolPart


def spool_contents(actor: Actor, code: str) -> SpoolContents:
    """Show what a spool is made of and went through, and what deviated, worst first.

    Raises
    ------
    Unknown
        When there is no such lot in this workshop.
    """
    lot = lot_of(actor, code)
    rules = entered(actor.workshop_id)
    instruments = Instruments.of(actor.workshop_id, rules)
    back = traced({lot.pk: lot.made_by_id}, bands_by(instruments.practice), rules)
    return _contents(actor, lot, back, instruments)


def spool_suspected(actor: Actor, code: str, limit: int) -> tuple[SpoolContents, Suspects]:
    """Show what is in a spool beside the evidence of all judged ones, traced back together.

    Raises
    ------
    Unknown
        When there is no such lot in this workshop.
    """
    lot, question = lot_of(actor, code), SuspectQuestion()
    rules = entered(actor.workshop_id)
    instruments = Instruments.of(actor.workshop_id, rules)
    evidence = gather(actor, question, also=[lot], rules=rules)
    found, _ = weigh(evidence, question, USUAL, limit)
    return _contents(actor, lot, evidence.back, instruments), found


def _contents(actor: Actor, lot: Lot, back: Traced, instruments: Instruments) -> SpoolContents:
    marks, shares = back.found[lot.pk]
    share_of_mark = dict(zip(marks.tolist(), shares.tolist(), strict=True))
    between = back.ranges(lot.pk, lot.made_by_id)
    parts = [
        SpoolPart(back.candidates[mark], None, None)
        if isnan(share)
        else SpoolPart(
            back.candidates[mark], share, round(share * lot.made_mg), *between.get(mark, ())
        )
        for mark, share in share_of_mark.items()
        if back.candidates[mark].kind != MET
    ]
    rank = {kind: place for place, kind in enumerate(KINDS)}
    parts.sort(
        key=lambda part: (rank[part.candidate.kind], -(part.share or 0.0), part.candidate.key)
    )

    spool = getattr(lot, "spool", None)
    tolerance = (spool.diameter_mm, spool.tolerance_mm) if spool and spool.tolerance_mm else None
    told = Told(
        back.way.above(lot.made_by_id),
        back.book.checks,
        back.book.fed,
        back.book.limits.missed,
        back.book.departures,
        _Met(back.book, share_of_mark),
    )
    return SpoolContents(
        lot.code,
        lot.polymer,
        lot.made_mg,
        lot.pk in holds_in_force(actor.workshop_id),
        tuple(parts),
        deviations(instruments, told, tolerance),
        back.book.order.rests_on(lot.made_by_id),
    )


@dataclass(frozen=True)
class _Met:
    """What part of a spool met a run, a portion that it took in, or a limit while it was missed."""

    book: CandidateBook
    shares: dict[int, float]

    def of_run(self, run_id: int) -> float:
        own = [self.shares.get(mark, 0.0) for mark in self.book.marks_of_run(run_id)]
        return own[0] if own else 1.0

    def of_portion(self, run_id: int, lot_id: int, fed: datetime) -> float:
        return self._of(run_id, lot_id, fed)

    def of_limit(self, run_id: int, one: LimitMissed) -> float:
        return self._of(run_id, one) if one.changes else self.of_run(run_id)

    def _of(self, *met: object) -> float:
        mark = self.book.number_of(*met)
        return 0.0 if mark is None else self.shares.get(mark, 0.0)
