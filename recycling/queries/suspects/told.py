"""What was said of the spools that a search asks about, by users and by declared checks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils import timezone

from recycling.calc.quality.judging import Answer
from recycling.models import FilamentReading, Lot, Run, Verdict
from recycling.queries.quality.states import Judges, noted_of
from recycling.queries.quality.verdicts import Said, counted_among

MOST_JUDGED = 5_000


@dataclass(frozen=True)
class Told:
    """What was said of the lots asked about: id → (code, run that made it), newest lot first."""

    lots: dict[int, tuple[str, int]]
    counts: dict[int, tuple[int, int]]
    other_defects: int
    void: int
    waiting: int


def told_of(workshop_id: int, made: QuerySet[Lot], wanted: Collection[str]) -> Told:
    """Read what users said of these lots and, where a defect is named, what its checks say.

    A check that failed is a bad result of the defect that it stands for, one that passed a good
    one of that defect only; what is not judged says nothing.
    """
    told = _told(made, wanted)
    if not wanted:
        return told
    measured = made.exclude(made_by__state=Run.VOID).filter(
        pk__in=FilamentReading.objects.filter(lot__in=made).values("lot_id"), made_mg__gt=0
    )
    rows = list(measured.order_by("-number").values_list("pk", "code", "made_by_id")[:MOST_JUDGED])
    if not rows:
        return told
    judges, now = Judges(workshop_id), timezone.now()
    noted = noted_of(workshop_id, [row[0] for row in rows])
    for lot_id, code, made_by_id in rows:
        answers = [
            one.answer
            for one in judges.state(noted[lot_id], now).answers
            if one.defect in wanted and one.readings
        ]
        bad, good = Answer.FAILED in answers, Answer.PASSED in answers
        if bad or good:
            before = told.counts.get(lot_id, (0, 0))
            told.counts[lot_id] = (before[0] + (good and not bad), before[1] + bad)
            told.lots.setdefault(lot_id, (code, made_by_id))
    return told


def _told(made: QuerySet[Lot], wanted: Collection[str]) -> Told:
    """Read every verdict on these lots by one query, and sort out what each is good for."""
    rows = list(
        Verdict.objects.filter(lot__in=made)
        .order_by("given_at", "pk")
        .values_list(
            "lot_id",
            "giver",
            "state",
            "good",
            "defects",
            "lot__number",
            "lot__code",
            "lot__made_by_id",
            "lot__made_mg",
            "lot__made_by__state",
        )
    )
    void = {row[0] for row in rows if not row[8] or row[9] == Run.VOID}
    numbers = {row[0]: row[5] for row in rows if row[0] not in void}
    newest = sorted(numbers, key=lambda pk: -numbers[pk])[:MOST_JUDGED]
    chosen = set(newest)
    counts, others = _counts([row[:5] for row in rows if row[0] in chosen], wanted)
    named = {row[0]: (row[6], row[7]) for row in rows}
    return Told(
        {pk: named[pk] for pk in newest if pk in counts},
        counts,
        others,
        len(void),
        sum(row[2] == Verdict.WAITING for row in rows),
    )


def _counts(
    said: Sequence[Said], wanted: Collection[str]
) -> tuple[dict[int, tuple[int, int]], int]:
    """Count good and bad of each lot, and lots that are bad for another reason alone."""
    good: Counter[int] = Counter()
    bad: Counter[int] = Counter()
    other: set[int] = set()
    for lot_id, is_good, defects in counted_among(said):
        if is_good:
            good[lot_id] += 1
        elif not wanted or not set(wanted).isdisjoint(defects):
            bad[lot_id] += 1
        else:
            other.add(lot_id)
    judged = set(good) | set(bad)
    return {pk: (good[pk], bad[pk]) for pk in judged}, len(other - judged)
