"""What a public address shows of a report, and what a file that somebody has turns out to be."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from recycling.models import FrozenReport, Report, ReportFile, ReportLink
from recycling.queries.people.names import Names
from recycling.queries.people.tokens import digest_of, token_for
from recycling.records.actors import Actor
from recycling.records.reports.files import OTHER_REPORT, SAME, UNKNOWN
from recycling.records.reports.rows import PublicReport, ReportLinkRow, Verification
from recycling.reports.asked import body_of, file_rows, reader_of, report_named
from recycling.reports.consent import may_be_public
from recycling.tables.reports.json_file import read_report
from shared.errors import Unknown

LONGEST_TOKEN = 40


def report_links(actor: Actor, code: str) -> list[ReportLinkRow]:
    """List the public addresses of a report, the newest first; those in force for who may give.

    Raises
    ------
    Unknown
        When there is no such report in this workshop.
    """
    report = report_named(actor.workshop_id, code)
    return list(links_of(actor, report, Names(actor.workshop_id)))


def links_of(actor: Actor, report: Report, names: Names) -> tuple[ReportLinkRow, ...]:
    """List the public addresses of a report, the newest first."""
    rows = ReportLink.objects.filter(report=report).order_by("-pk")
    return tuple(link_row(one, names, actor.may("publish")) for one in rows)


def link_row(link: ReportLink, names: Names, with_token: bool) -> ReportLinkRow:
    """Show a link; its token only where it opens something and may be seen."""
    opens = link.revoked_at is None and link.expires_at > timezone.now()
    token = token_for(link.seed) if opens and with_token else ""
    return ReportLinkRow(
        link.pk,
        link.created_at,
        names.of(link.created_by),
        link.expires_at,
        link.revoked_at,
        token if digest_of(token) == link.digest else "",
    )


def public_report(token: str) -> PublicReport:
    """Show a report to whoever has its public address.

    Raises
    ------
    Unknown
        When the address opens nothing: unknown, too old, taken away, or a source that the report
        names no longer agrees. Which of these it is is not said.
    """
    link = _link(token)
    report = link.report
    frozen = FrozenReport.objects.get(pk=report.pk)
    later = Report.objects.filter(supersedes=report, state=Report.READY)
    return PublicReport(
        report.workshop.name,
        report.workshop.zone,
        read_report(frozen.body),
        frozen.digest,
        file_rows(frozen.pk),
        later.values_list("code", flat=True).first() or "",
        link.expires_at,
    )


def public_file(token: str, kind: str) -> tuple[str, bytes]:
    """Give a file of a public report as it was made: its name and its bytes.

    Raises
    ------
    Unknown
        When the address opens nothing, or there is no such file.
    """
    kept = ReportFile.objects.filter(frozen_id=_link(token).report_id, kind=kind).first()
    if kept is None:
        raise _closed()
    return kept.name, bytes(kept.held)


def public_verify(token: str, digest: str) -> Verification:
    """Say what a file is by its SHA-256; of other reports only those are told of that are public.

    Raises
    ------
    Unknown
        When the address opens nothing.
    """
    report = _link(token).report
    return _verified(report, digest, lambda other: any(map(_opens, _in_force(report=other))))


def report_verify(actor: Actor, code: str, digest: str) -> Verification:
    """Say what a file is by its SHA-256: one of this report, of another of the workshop, or none.

    Raises
    ------
    Unknown
        When there is no such report in this workshop.
    """
    return _verified(report_named(actor.workshop_id, code), digest, lambda other: True)


def _verified(report: Report, digest: str, told: Callable[[int], bool]) -> Verification:
    files = ReportFile.objects.filter(frozen__workshop_id=report.workshop_id, digest=digest)
    found = {
        report_id: (kind, code)
        for report_id, kind, code in files.values_list("frozen_id", "kind", "frozen__report__code")
    }
    if report.pk in found:
        return Verification(SAME, digest, *found[report.pk])
    for report_id, (kind, code) in found.items():
        if told(report_id):
            return Verification(OTHER_REPORT, digest, kind, code)
    return Verification(UNKNOWN, digest)


def _link(token: str) -> ReportLink:
    if len(token) > LONGEST_TOKEN:
        raise _closed()
    link = _in_force(digest=digest_of(token)).first()
    if link is None or not _opens(link):
        raise _closed()
    return link


def _in_force(**chosen: Any) -> QuerySet[ReportLink]:
    rows = ReportLink.objects.select_related("report__workshop")
    return rows.filter(revoked_at=None, expires_at__gt=timezone.now(), **chosen)


def _opens(link: ReportLink) -> bool:
    frozen = read_report(body_of(link.report_id))
    return may_be_public(reader_of(link.report.workshop), frozen)


def _closed() -> Unknown:
    return Unknown.because("link-unknown", "This address opens nothing.")
