"""What happened to lots besides the postings, in a period or to the lots of a trace.

Runs that a lot no longer came through or went into, since they were undone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from recycling.models import ChangeEvent, Draw, Hold, Lot, LotEvent, Run, Verdict
from recycling.queries.lots.run_paths import in_chunks
from recycling.records.exchange.exports import HELD, JUDGED, RELEASED, ExportWanted, Happening


def happenings_of(
    workshop_id: int, wanted: ExportWanted, codes: Collection[str]
) -> tuple[Happening, ...]:
    """Tell what happened in a period, or to the lots of a trace; and what no longer stands."""
    if wanted.lot:
        found: list[Happening] = []
        for chunk in in_chunks(sorted(codes)):
            of = Q(lot__workshop_id=workshop_id, lot__code__in=chunk)
            found += [*_events(of), *_holds(of), *_verdicts(workshop_id, of)]
        return tuple(found)
    start, end = wanted.start, wanted.end
    assert start is not None and end is not None
    here = Q(lot__workshop_id=workshop_id)

    def during(*moments: str) -> Q:
        chosen = Q()
        for moment in moments:
            chosen |= Q(**{f"{moment}__gte": start, f"{moment}__lt": end})
        return here & chosen

    since = here & (Q(given_at__gte=start) | Q(decided_at__gte=start))
    touched = Verdict.objects.filter(since, given_at__lt=end)
    all_of_them = here & Q(lot_id__in=touched.values("lot_id"))
    told = [
        *_events(during("happened_at")),
        *_holds(during("placed_at", "released_at")),
        *_verdicts(workshop_id, all_of_them),
    ]
    return tuple(
        one
        for one in told
        if any(at and start <= at < end for at in (one.happened_at, one.written_at, one.wrong_at))
    )


def _events(chosen: Q) -> Iterator[Happening]:
    rows = LotEvent.objects.filter(chosen).order_by("pk")
    for kind, pk, lot, happened, written in rows.values_list(
        "kind", "pk", "lot__code", "happened_at", "written_at"
    ):
        yield Happening(kind, str(pk), lot, happened, written)


def _holds(chosen: Q) -> Iterator[Happening]:
    rows = Hold.objects.filter(chosen).order_by("pk")
    for pk, lot, spreads, placed, released in rows.values_list(
        "pk", "lot__code", "with_descendants", "placed_at", "released_at"
    ):
        yield Happening(HELD, str(pk), lot, placed, placed, spreads=spreads)
        if released is not None:
            yield Happening(RELEASED, str(pk), lot, released, released)


@dataclass(frozen=True)
class Said:
    """A verdict, and the moments at which it was decided to count or to be set aside."""

    pk: int
    lot: str
    good: bool
    defects: tuple[str, ...]
    given_at: datetime
    counted: tuple[tuple[datetime, bool], ...]


def _verdicts(workshop_id: int, chosen: Q) -> Iterator[Happening]:
    """Tell each verdict as often as it came to count, with when it no longer did and why.

    Of each giver and lot the newest that was decided on speaks, and only if it counts.
    """
    givers: dict[tuple[int, str], list[Said]] = defaultdict(list)
    rows = list(Verdict.objects.filter(chosen).select_related("lot").order_by("given_at", "pk"))
    decided = _decided(workshop_id, rows)
    for row in rows:
        moments = _moments(row, decided.get(row.pk, []))
        said = Said(row.pk, row.lot.code, row.good, tuple(row.defects), row.given_at, moments)
        givers[row.lot_id, row.giver].append(said)
    for each in givers.values():
        for place, one in enumerate(each):
            yield from _told(one, each[place + 1 :])


def _moments(row: Verdict, decided: list[tuple[str, str, datetime]]) -> tuple:
    first = decided[0][0] if decided else row.state
    moments = [] if first == Verdict.WAITING else [(row.given_at, first == Verdict.COUNTED)]
    for _, state, at in decided:
        counts = state == Verdict.COUNTED
        if not moments or moments[-1][1] != counts:
            moments.append((at, counts))
    return tuple(moments)


def _decided(
    workshop_id: int, rows: Iterable[Verdict]
) -> dict[int, list[tuple[str, str, datetime]]]:
    """Read the decisions on verdicts in order: what each was before, what it became, when."""
    subjects = {f"verdict {row.pk} of {row.lot.code}": row.pk for row in rows if row.decided_at}
    decided: dict[int, list[tuple[str, str, datetime]]] = defaultdict(list)
    for chunk in in_chunks(subjects):
        events = ChangeEvent.objects.filter(
            workshop_id=workshop_id, deed="decide", subject__in=chunk
        )
        for subject, before, after, at in events.order_by("pk").values_list(
            "subject", "before", "after", "written_at"
        ):
            decided[subjects[subject]].append((before["state"], after["state"], at))
    return decided


def _told(one: Said, later: list[Said]) -> Iterator[Happening]:
    following = next((other for other in later if other.counted), None)
    gone_at, taken = (None, False) if following is None else following.counted[0]
    spans = [
        (at, one.counted[place + 1][0] if place + 1 < len(one.counted) else None)
        for place, (at, counts) in enumerate(one.counted)
        if counts
    ]
    for number, (start, end) in enumerate(spans, 1):
        if gone_at is not None and gone_at <= start:
            return
        wrong_at, right = end, ""
        if gone_at is not None and (end is None or gone_at < end):
            wrong_at = gone_at
            right = str(following.pk) if following and taken else ""
        key = str(one.pk) if number == 1 else f"{one.pk}/{number}"
        yield Happening(
            JUDGED,
            key,
            one.lot,
            one.given_at,
            start,
            good=one.good,
            defects=one.defects,
            wrong_at=wrong_at,
            right=right,
        )


def undone_on_the_way(workshop_id: int, code: str, forward: bool) -> set[int]:
    """Name the voided run that made a lot and, forward, runs that no longer draw on it.

    Whoever was told of them is told that they did not occur: runs that were voided, and those
    whose draw was corrected to nothing, on the lot or on what was made of it.
    """
    lot = Lot.objects.filter(workshop_id=workshop_id, code=code)
    undone = set(lot.filter(made_by__state=Run.VOID).values_list("made_by_id", flat=True))
    lots, met = set(lot.values_list("pk", flat=True)) if forward else set(), set(undone)
    while lots:
        draws = Draw.objects.filter(lot_id__in=lots).exclude(run_id__in=met)
        found = dict(draws.values_list("run_id", "run__state"))
        going_on = set(draws.filter(mass_mg__gt=0).values_list("run_id", flat=True))
        met |= found.keys()
        undone |= found.keys() - going_on
        going_on |= {run for run, state in found.items() if state == Run.VOID}
        made = Lot.objects.filter(made_by_id__in=going_on)
        lots = set(made.values_list("pk", flat=True))
    return undone
