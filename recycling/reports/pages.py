"""A report with all that its page shows: what it says, what changed, who may see it."""

from __future__ import annotations

from recycling.models import FrozenReport
from recycling.queries.people.names import Names
from recycling.records.actors import Actor
from recycling.records.reports.documents import Document, Table
from recycling.records.reports.rows import LineChange, ReportShown
from recycling.reports.asked import NOT_FROZEN, body_of, progress_of, report_named
from recycling.reports.public import links_of, public_report
from recycling.tables.reports.changes import changes_between
from recycling.tables.reports.json_file import read_report
from shared.errors import Unknown


def report_shown(actor: Actor, code: str) -> ReportShown:
    """Show a report with what it says, what it changes, and its public addresses.

    Raises
    ------
    Unknown
        When there is no such report in this workshop.
    """
    report, names = report_named(actor.workshop_id, code), Names(actor.workshop_id)
    bodies = _bodies(report.pk, report.supersedes_id)
    body = bodies.get(report.pk, "")
    return ReportShown(
        progress_of(actor, report, body, names),
        read_report(body) if body else None,
        _changes(bodies, report.supersedes_id, report.pk),
        links_of(actor, report, names),
    )


def report_changes(actor: Actor, code: str) -> tuple[LineChange, ...]:
    """List what a report says differently from the one whose place it takes; none without one.

    Raises
    ------
    Unknown
        When there is no such report in this workshop, or it is not frozen.
    """
    report = report_named(actor.workshop_id, code)
    bodies = _bodies(report.pk, report.supersedes_id)
    if report.pk not in bodies:
        raise Unknown.because("report-not-frozen", NOT_FROZEN)
    return _changes(bodies, report.supersedes_id, report.pk)


def report_table(actor: Actor, code: str, key: str) -> Table:
    """Give one table of a frozen report.

    Raises
    ------
    Unknown
        When there is no such report in this workshop, it is not frozen, or has no such table.
    """
    body = body_of(report_named(actor.workshop_id, code).pk)
    if not body:
        raise Unknown.because("report-not-frozen", NOT_FROZEN)
    return _table_of(read_report(body).document, key)


def public_table(token: str, key: str) -> Table:
    """Give one table of a public report.

    Raises
    ------
    Unknown
        When the address opens nothing, or the report has no such table.
    """
    return _table_of(public_report(token).frozen.document, key)


def _table_of(document: Document, key: str) -> Table:
    for section in document.sections:
        for table in section.tables:
            if table.key == key:
                return table
    raise Unknown.because("table-unknown", "This report has no such table.")


def _bodies(*keys: int | None) -> dict[int, str]:
    rows = FrozenReport.objects.filter(pk__in=[key for key in keys if key])
    return dict(rows.values_list("pk", "body"))


def _changes(bodies: dict[int, str], before: int | None, after: int) -> tuple[LineChange, ...]:
    if before not in bodies or after not in bodies:
        return ()
    was, now = (read_report(bodies[key]).document for key in (before, after))
    return changes_between(was, now)
