"""Reports: the list, one while it is made and once it is frozen, its files and tables."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header

from recycling.records.actors import Actor
from recycling.records.reports.rows import ReportShown
from recycling.reports.asked import report_file, reports_page
from recycling.reports.frozen_files import CONTENT_TYPES
from recycling.reports.pages import report_changes, report_shown, report_table
from recycling.tables.reports.csv_file import table_csv
from recycling.tables.reports.text import RAW_UNITS
from recycling.web.pages.menu import report_groups
from recycling.web.pages.read import LIST_LIMIT, csv_answer, csv_url, link, pager, reading
from recycling.web.reports.asking import usual_periods
from recycling.web.reports.words import FILES, STEPS, set_changes, set_document

MOST_CHANGES = 100
CHANGE_COLUMNS = ("section", "table", "line", "figure", "unit", "before", "after", "what")


@reading
def reports(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    page = reports_page(actor, request.GET.get("after", ""), LIST_LIMIT)
    may = actor.may("report")
    context = {
        "nav": "reports",
        "groups": report_groups(actor),
        "page": page,
        "pager": pager(request, page),
        "usual": usual_periods(actor, timezone.localdate()) if may else [],
        "new_url": link("report-new", actor) if may else "",
    }
    return render(request, "reports/list.html", context)


@reading
def report(request: HttpRequest, actor: Actor, code: str) -> HttpResponseBase:
    """Show how far a report is, and what it says once it is frozen."""
    table = request.GET.get("table", "") if request.GET.get("format") == "csv" else ""
    if table == "changes":
        return _changes_csv(actor, code)
    if table:
        return _table_csv(actor, code, table)
    found = report_shown(actor, code)
    if request.headers.get("HX-Request") and found.progress.state != "making":
        return _look_again()
    if found.frozen is None:
        return _on_the_way(request, actor, found)
    context = {
        "nav": "reports",
        "found": found.progress,
        **set_document(found.frozen),
        "files": offered_files(found, link("report", actor, code)),
        "changes": set_changes(found.changes[:MOST_CHANGES], found.frozen.document.language),
        "changes_count": len(found.changes),
        "changes_csv": csv_url(request, "changes"),
        "links": [(one, _address(request, one.token)) for one in found.links],
        "may_publish": actor.may("publish"),
        "again_url": _again(actor, found) if actor.may("report") else "",
        "verify_url": reverse("report-verify", args=[actor.slug, code]),
        "csv_base": f"{request.path}?format=csv&table=",
    }
    answer = render(request, "reports/report.html", context)
    if found.links:
        answer["Cache-Control"] = "no-store"
    return answer


def _on_the_way(request: HttpRequest, actor: Actor, found: ReportShown) -> HttpResponse:
    """Show the progress; a poll gets that part only."""
    progress = found.progress
    template = "making" if request.headers.get("HX-Request") else "progress"
    context = {
        "nav": "reports",
        "found": progress,
        "step": STEPS.get(progress.step, progress.step),
        "done_percent": round(100 * progress.done_share),
        "again_url": link("report-new", actor) if actor.may("report") else "",
    }
    return render(request, f"reports/{template}.html", context)


def _look_again() -> HttpResponse:
    """Answer a poll when the work is over: the page is to be loaded anew."""
    answer = HttpResponse()
    answer["HX-Refresh"] = "true"
    return answer


def offered_files(found: ReportShown, base: str) -> list[dict[str, Any]]:
    """List the files with their addresses."""
    return [
        {"file": one, "label": FILES[one.kind], "url": f"{base}files/{one.kind}/"}
        for one in found.progress.files
    ]


def _address(request: HttpRequest, token: str) -> str:
    return request.build_absolute_uri(reverse("public-report", args=[token])) if token else ""


def _again(actor: Actor, found: ReportShown) -> str:
    """Give the address of the form, filled so that the new report takes this one's place."""
    assert found.frozen is not None
    asked = found.frozen.question
    query = {
        "kind": asked.kind,
        "from": asked.from_date.isoformat(),
        "to": asked.to_date.isoformat(),
        "programme": asked.programme,
        "source": asked.source,
        "counts_as": asked.counts_as,
        "people_reached": "" if asked.people_reached is None else str(asked.people_reached),
        "title": asked.title,
        "note": asked.note,
        "signed_by": "\n".join(asked.signed_by),
        "supersedes": found.progress.superseded_by or found.progress.code,
    }
    return f"{link('report-new', actor)}?{urlencode({k: v for k, v in query.items() if v})}"


def _table_csv(actor: Actor, code: str, key: str) -> HttpResponse:
    answer = HttpResponse(
        table_csv(report_table(actor, code, key)), content_type="text/csv; charset=utf-8"
    )
    answer["Content-Disposition"] = content_disposition_header(True, f"{code}-{key}.csv")
    return answer


def _changes_csv(actor: Actor, code: str) -> HttpResponseBase:
    rows = (
        (
            one.section,
            one.table,
            one.line,
            one.column,
            RAW_UNITS.get(one.kind, one.unit),
            one.before,
            one.after,
            one.what,
        )
        for one in report_changes(actor, code)
    )
    return csv_answer(f"{code}-changes", CHANGE_COLUMNS, rows)


@reading
def report_download(request: HttpRequest, actor: Actor, code: str, kind: str) -> HttpResponseBase:
    return file_answer(*report_file(actor, code, kind), kind)


def file_answer(name: str, held: bytes, kind: str) -> HttpResponse:
    """Give a file to be kept; it is never opened within this site."""
    answer = HttpResponse(held, content_type=CONTENT_TYPES[kind])
    answer["Content-Disposition"] = content_disposition_header(True, name)
    answer["X-Content-Type-Options"] = "nosniff"
    return answer
