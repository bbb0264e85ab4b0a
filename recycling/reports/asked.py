"""Reports that were asked for: listed, followed while they are made, read once they are frozen."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, TypedDict
from uuid import UUID

from django.db.models import F, OuterRef, Q, QuerySet, Subquery

from recycling.ledger.models import Entry
from recycling.models import (
    ChangeEvent,
    FrozenReport,
    Lot,
    Origin,
    Report,
    ReportFile,
    Run,
    Workshop,
)
from recycling.queries.paging import checked_limit, cursor_for, number_of
from recycling.queries.people.names import Names
from recycling.records.actors import Actor
from recycling.records.paging import Page
from recycling.records.reports.files import FILES
from recycling.records.reports.rows import ReportFileRow, ReportProgress, ReportRow
from recycling.reports.consent import may_be_public
from recycling.tables.reports.json_file import digest_of_text, read_question, read_report
from shared.codes import read_code
from shared.errors import Unknown
from shared.roles import READ, VIEWER
from shared.said import say

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class _Kept(TypedDict):
        said_title: str | None
        said_at: datetime | None
        said_sequence: int | None
        said_digest: str | None
        before_code: str | None
        after_code: str | None

    KeptReport = WithAnnotations[Report, _Kept]

NOT_FROZEN = "This report is not frozen yet; ask again when its state is “ready”."


def reports_page(actor: Actor, after: str = "", limit: int = 50) -> Page[ReportRow]:
    """List reports, the newest first."""
    before, limit = number_of(after), checked_limit(limit)
    rows = _rows(actor.workshop_id).order_by("-number")
    if before is not None:
        rows = rows.filter(number__lt=before)
    found, names = list(rows[: limit + 1]), Names(actor.workshop_id)
    more = cursor_for(found[limit - 1].number) if len(found) > limit else ""
    return Page(tuple(ReportRow(**_row(one, names)) for one in found[:limit]), more)


def report_progress(actor: Actor, code: str) -> ReportProgress:
    """Show how far a report is, and its files once it is frozen.

    Raises
    ------
    Unknown
        When there is no such report in this workshop.
    """
    report = report_named(actor.workshop_id, code)
    return progress_of(actor, report, body_of(report.pk), Names(actor.workshop_id))


def report_file(actor: Actor, code: str, kind: str) -> tuple[str, bytes]:
    """Give a file of a frozen report as it was made: its name and its bytes.

    Raises
    ------
    Unknown
        When there is no such report in this workshop, or it is not frozen.
    """
    report = report_named(actor.workshop_id, code)
    kept = ReportFile.objects.filter(frozen_id=report.pk, kind=kind).first()
    if kept is None:
        raise Unknown.because("report-not-frozen", NOT_FROZEN)
    return kept.name, bytes(kept.held)


def report_named(workshop_id: int, code: str) -> KeptReport:
    """Fetch a report of a workshop by its code.

    Raises
    ------
    Unknown
        When there is none.
    """
    found = _rows(workshop_id).filter(code=read_code(code) or code).first()
    if found is None:
        said = say("There is no report “{code}” in this workshop.", code=code)
        raise Unknown.because("report-unknown", said)
    return found


def reader_of(workshop: Workshop) -> Actor:
    """Say who reads a workshop's book where no person asks, as a background job."""
    return Actor(
        workshop.pk, workshop.name, workshop.slug, workshop.zone, 0, UUID(int=0), "", VIEWER, READ
    )


def file_rows(frozen_id: int) -> tuple[ReportFileRow, ...]:
    """List the files of a frozen report, in the order in which they are offered."""
    rows = ReportFile.objects.filter(frozen_id=frozen_id)
    columns = rows.values_list("kind", "name", "size_bytes", "digest")
    found = [ReportFileRow(*row) for row in columns]
    return tuple(sorted(found, key=lambda one: FILES.index(one.kind)))


def _rows(workshop_id: int) -> QuerySet[KeptReport]:
    following = Report.objects.filter(supersedes=OuterRef("pk"), state=Report.READY)
    return Report.objects.filter(workshop_id=workshop_id).annotate(
        said_title=F("frozen__title"),
        said_at=F("frozen__frozen_at"),
        said_sequence=F("frozen__sequence"),
        said_digest=F("frozen__digest"),
        before_code=F("supersedes__code"),
        after_code=Subquery(following.values("code")[:1]),
    )


def body_of(report_id: int) -> str:
    """Read the JSON of a report; empty until it is frozen."""
    bodies = FrozenReport.objects.filter(pk=report_id).values_list("body", flat=True)
    return bodies.first() or ""


def _row(report: KeptReport, names: Names) -> dict:
    asked = read_question(report.question)
    return {
        "code": report.code,
        "kind": asked.kind,
        "title": report.said_title or asked.title,
        "from_date": asked.from_date,
        "to_date": asked.to_date,
        "about": asked.programme or asked.source,
        "state": report.state,
        "asked_at": report.asked_at,
        "asked_by": names.of(report.asked_by),
        "frozen_at": report.said_at,
        "sequence": report.said_sequence,
        "digest": report.said_digest or "",
        "supersedes": report.before_code or "",
        "superseded_by": report.after_code or "",
    }


def progress_of(actor: Actor, report: KeptReport, body: str, names: Names) -> ReportProgress:
    """Say how far a report is; `body` is its JSON, empty until it is frozen."""
    row = _row(report, names)
    ready = report.state == Report.READY
    return ReportProgress(
        **row,
        done_share=report.done_share,
        step=report.step,
        failure=report.failure,
        intact=digest_of_text(body) == row["digest"] if ready else None,
        may_be_public=ready and may_be_public(actor, read_report(body)),
        entries_since=_since(report, body) if ready else 0,
        facts_since=_facts_since(report, body) if ready else 0,
        files=file_rows(report.pk) if ready else (),
    )


def _since(report: KeptReport, body: str) -> int:
    """Count entries of the report's period, or before it, that came after it was frozen."""
    end = read_report(body).document.end_at
    later = Entry.objects.filter(book_id=report.workshop_id, sequence__gt=report.said_sequence)
    return later.filter(happened_at__lt=end).count()


def _facts_since(report: KeptReport, body: str) -> int:
    """Count facts of the report's period, or before it, that were put right after it was frozen."""
    end, workshop_id = read_report(body).document.end_at, report.workshop_id
    changed = ChangeEvent.objects.filter(
        workshop_id=workshop_id, deed="facts", written_at__gt=report.said_at
    )
    origins = Origin.objects.filter(workshop_id=workshop_id, happened_at__lt=end)
    runs = Run.objects.filter(workshop_id=workshop_id, ended_at__lt=end)
    lots = Lot.objects.filter(workshop_id=workshop_id, made_by__ended_at__lt=end)
    codes = [Q(subject__in=rows.values("code")) for rows in (origins, runs, lots)]
    events = changed.filter(codes[0] | codes[1] | codes[2])
    return sum(len(after) for after in events.values_list("after", flat=True))
