"""What an export is written from: a lot's whole trace or a period, in one snapshot."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import UTC, datetime

from django.conf import settings
from django.db.models import Q
from django.utils import timezone

from recycling.ledger.models import LOT, PROCESS, Entry, Posting
from recycling.ledger.snapshots import snapshot
from recycling.models import Draw, Lot, Run, ToldEnergy, Workshop
from recycling.queries.exchange.facts import lots_of, origins_of, runs_of
from recycling.queries.exchange.happenings import happenings_of, undone_on_the_way
from recycling.queries.lots.lots import lot_of
from recycling.queries.lots.run_paths import in_chunks
from recycling.queries.lots.traces import ANCESTORS, BOTH, trace
from recycling.records.actors import Actor
from recycling.records.exchange.exports import Exported, ExportEntry, ExportPosting, ExportWanted
from recycling.records.lots.traces import Trace, TraceEdge, TraceLot, TraceRun
from shared.errors import Refused

PERIOD = "period"
BEGINNING = datetime(2000, 1, 1, tzinfo=UTC)
_COLUMNS = (
    "entry__sequence",
    "entry__process__run__code",
    "entry__kind",
    "entry__happened_at",
    "entry__written_at",
    "pk",
    "account__kind",
    "account__name",
    "account__lot__code",
    "mass_mg",
    "corrects_id",
)


def exported(actor: Actor, wanted: ExportWanted, events: bool = True) -> Exported:
    """Read all that an export is written from; without `events` only the trace and its runs.

    Raises
    ------
    Refused
        When both a lot and a period are asked for, or the period ends before it starts.
    Unknown
        When there is no such lot.
    """
    wanted = _checked(wanted)
    with snapshot():
        return _read(actor, wanted, events)


def runs_exported(actor: Actor, wanted: ExportWanted) -> list[int]:
    """Name the runs that events of an export are of; raises as `exported` does."""
    return _found(actor, _checked(wanted), events=True)[1]


def _checked(wanted: ExportWanted) -> ExportWanted:
    period = wanted.start is not None or wanted.end is not None
    if wanted.lot and period or wanted.forward and not wanted.lot:
        raise Refused.because(
            "export-unclear",
            "Ask for a lot, forward or not, or for a period; not for both at once.",
        )
    start, end = wanted.start or BEGINNING, wanted.end or timezone.now()
    if end <= start:
        raise Refused.because("end-before-start", "The period's end is not after its start.", "?to")
    return ExportWanted(wanted.lot, wanted.forward, start, end)


def _read(actor: Actor, wanted: ExportWanted, events: bool) -> Exported:
    now = timezone.now()
    workshop = Workshop.objects.select_related("book").get(pk=actor.workshop_id)
    found, run_ids = _found(actor, wanted, events)
    entries = _entries(run_ids) if events else ()
    codes = {one.lot for entry in entries for one in entry.postings if one.lot}
    codes |= {lot.code for lot in found.lots}
    return Exported(
        identity=workshop.identity,
        slug=workshop.slug,
        zone=workshop.zone,
        address=settings.PUBLIC_ADDRESS,
        read_at=now,
        sequence=workshop.book.last_sequence,
        wanted=wanted,
        trace=found,
        runs=runs_of(actor.workshop_id, run_ids, events, now),
        lots=lots_of(actor.workshop_id, sorted(codes)),
        origins=origins_of(run_ids),
        entries=entries,
        happenings=happenings_of(actor.workshop_id, wanted, codes) if events else (),
    )


def _found(actor: Actor, wanted: ExportWanted, events: bool) -> tuple[Trace, list[int]]:
    """Find the trace of a lot or a period, and the runs that are told of with it."""
    here = actor.workshop_id
    if wanted.lot:
        found = trace(actor, lot_of(actor, wanted.lot).code, BOTH if wanted.forward else ANCESTORS)
    else:
        found = period_trace(here, wanted.start, wanted.end)
    if not events:
        return found, _ids(Run, here, [run.code for run in found.runs])
    if not wanted.lot:
        return found, _told_in(here, wanted.start, wanted.end)
    run_ids = _traced(here, found)
    undone = undone_on_the_way(here, found.lot, wanted.forward)
    return found, run_ids + sorted(undone - set(run_ids))


def _ids(kind: type[Run] | type[Lot], workshop_id: int, codes: Iterable[str]) -> list[int]:
    return [
        pk
        for chunk in in_chunks(codes)
        for pk in kind.objects.filter(workshop_id=workshop_id, code__in=chunk)
        .order_by("number")
        .values_list("pk", flat=True)
    ]


def _traced(workshop_id: int, found: Trace) -> list[int]:
    """Name the runs of a trace and the counts of its lots."""
    run_ids = _ids(Run, workshop_id, [run.code for run in found.runs])
    counts = {
        pk
        for chunk in in_chunks([lot.code for lot in found.lots])
        for pk in Run.objects.filter(
            workshop_id=workshop_id, counted__lot__code__in=chunk
        ).values_list("pk", flat=True)
    }
    return run_ids + sorted(counts - set(run_ids))


def _told_in(workshop_id: int, start: datetime | None, end: datetime | None) -> list[int]:
    """Name the runs of which something happened in a period, or was put right in it."""
    happened = Q(happened_at__gte=start, happened_at__lt=end)
    righted = Q(kind__in=("correct", "void"), written_at__gte=start, written_at__lt=end)
    entries = Entry.objects.filter(happened | righted, book_id=workshop_id)
    told = set(entries.values_list("process_id", flat=True).distinct())
    ended = Run.objects.filter(workshop_id=workshop_id, ended_at__gte=start, ended_at__lt=end)
    told |= set(ended.values_list("pk", flat=True))
    energies = ToldEnergy.objects.filter(
        run__workshop_id=workshop_id, number__gt=1, told_at__gte=start, told_at__lt=end
    )
    told |= set(energies.values_list("run_id", flat=True))
    return sorted(told)


def _entries(run_ids: list[int]) -> tuple[ExportEntry, ...]:
    heads: dict[int, tuple] = {}
    postings: dict[int, list[ExportPosting]] = defaultdict(list)
    for chunk in in_chunks(run_ids):
        rows = Posting.objects.filter(entry__process_id__in=chunk).order_by("pk")
        for sequence, run, kind, happened, written, *one in rows.values_list(*_COLUMNS).iterator():
            heads[sequence] = (sequence, run, kind, happened, written)
            pk, account, name, lot, mass_mg, corrects = one
            account = account if account in (LOT, PROCESS) else name
            postings[sequence].append(ExportPosting(pk, account, lot or "", mass_mg, corrects))
    return tuple(ExportEntry(*(*heads[n], tuple(postings[n]))) for n in sorted(heads))


def period_trace(workshop_id: int, start: datetime | None, end: datetime | None) -> Trace:
    """Give the runs that ended in a period, with what they drew and gave."""
    runs = Run.objects.filter(
        workshop_id=workshop_id, ended_at__gte=start, ended_at__lt=end
    ).exclude(state=Run.VOID)
    lots: dict[int, TraceLot] = {}
    edges: dict[tuple[int, str, int], TraceEdge] = {}
    named = ("code", "form", "polymer", "role", "origin__code", "made_mg")
    met: dict[int, TraceRun] = {}
    for number, code, stage, state, at in runs.values_list(
        "number", "code", "stage", "state", "ended_at"
    ):
        assert at is not None, "these have ended"
        met[number] = TraceRun(code, stage, state, at)
    draws = Draw.objects.filter(run__in=runs, mass_mg__gt=0)
    for run, number, mass_mg, lot, *about in draws.values_list(
        "run__code", "run__number", "mass_mg", "lot__number", *(f"lot__{name}" for name in named)
    ):
        lots[lot] = _trace_lot(about)
        edges[number, "in", lot] = TraceEdge(run, about[0], "in", mass_mg, "")
    given = Lot.objects.filter(made_by__in=runs, made_mg__gt=0)
    for run, number, lot, *about in given.values_list(
        "made_by__code", "made_by__number", "number", *named
    ):
        lots[lot] = _trace_lot(about)
        edges[number, "out", lot] = TraceEdge(run, about[0], "out", about[5], about[3])
    return Trace(
        "",
        PERIOD,
        tuple(lots[number] for number in sorted(lots)),
        tuple(met[number] for number in sorted(met)),
        tuple(edges[key] for key in sorted(edges)),
    )


def _trace_lot(about: list) -> TraceLot:
    code, form, polymer, role, origin, made_mg = about
    return TraceLot(code, form, polymer, role, origin or "", made_mg)
