"""Reports: asked for, followed, fetched as files, superseded, and shown in public."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpResponse
from django.urls import path
from django.utils.http import content_disposition_header
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request

from api.protocol.asking import PAGING
from api.protocol.authentication import actor_of
from api.protocol.bodies import NothingBody
from api.protocol.description import refusals_of_reading
from api.protocol.requests import Door, lists, records, shows
from recycling.records.actors import Actor
from recycling.records.paging import Page
from recycling.records.reports.files import CSV, HTML, JSON, PDF, XLSX
from recycling.records.reports.rows import (
    LineChange,
    ReportEntry,
    ReportLinkRow,
    ReportProgress,
    ReportRow,
)
from recycling.reports.asked import report_file, report_progress, reports_page
from recycling.reports.frozen_files import CONTENT_TYPES
from recycling.reports.pages import report_changes
from recycling.reports.public import report_links
from recycling.services.reports.ask import report_ask
from recycling.services.reports.links import report_link_give, report_link_revoke
from recycling.tables.reports.text import RAW_UNITS


@dataclass(frozen=True)
class ReportLinkBody:
    """A public address that is to be given.

    Attributes
    ----------
    valid_days : int
        For how many days it opens the report.
    """

    valid_days: int = 365


@dataclass(frozen=True)
class ReportLinkRevoked:
    """A report whose public address was taken away.

    Attributes
    ----------
    report : str
        Code of the report.
    """

    report: str


@dataclass(frozen=True)
class ReportChangeShown:
    """A figure of a report that is not what it was in the report before.

    Attributes
    ----------
    section, table : str
        Titles of where it stands; the table is empty for a figure of its own.
    line, column : str
        Which line, and which of its figures.
    unit : str
        Unit of the figure: mg for masses, 1 for shares.
    before, after : str
        What it said and says, in full; empty where there was or is no such line.
    what : str
        "added", "removed" or "changed".
    """

    section: str
    table: str
    line: str
    column: str
    unit: str
    before: str
    after: str
    what: str


def change_shown(change: LineChange) -> ReportChangeShown:
    """Show a change with both figures as texts, so that a column holds one kind of thing."""
    before, after = ("" if one is None else str(one) for one in (change.before, change.after))
    unit = RAW_UNITS.get(change.kind, change.unit)
    place = (change.section, change.table, change.line, change.column)
    return ReportChangeShown(*place, unit, before, after, change.what)


class ReportsApi(Door):
    needs = {"GET": "read", "POST": "report"}

    @lists(ReportRow, *PAGING)
    def get(self, actor: Actor, **asked: object) -> Page[ReportRow]:
        """List reports, newest first."""
        return reports_page(actor, **asked)  # type: ignore[arg-type]

    @records(ReportEntry, ReportProgress, status=202)
    def post(self, actor: Actor, entry: ReportEntry) -> ReportProgress:
        """Freeze a report in the background; follow it by its code until it is "ready"."""
        return report_progress(actor, report_ask(actor, entry))


class ReportApi(Door):
    needs = {"GET": "read"}

    @shows(ReportProgress)
    def get(self, actor: Actor, code: str) -> ReportProgress:
        """Show how far a report is, and its files with their SHA-256 once it is frozen."""
        return report_progress(actor, code)


class ReportChangesApi(Door):
    needs = {"GET": "read"}

    @lists(ReportChangeShown)
    def get(self, actor: Actor, code: str) -> list[ReportChangeShown]:
        """List what a report says differently from the one whose place it takes."""
        return [change_shown(one) for one in report_changes(actor, code)]


class ReportLinksApi(Door):
    needs = {"GET": "read", "POST": "publish"}

    @lists(ReportLinkRow)
    def get(self, actor: Actor, code: str) -> list[ReportLinkRow]:
        """List the public addresses of a report; their tokens are shown to a lead."""
        return report_links(actor, code)

    @records(ReportLinkBody, ReportLinkRow, once_only={"token": ""})
    def post(self, actor: Actor, body: ReportLinkBody, code: str) -> ReportLinkRow:
        """Give a report a public address: /r/ and the token; a repeat has the token empty."""
        return report_link_give(actor, code, body.valid_days)


class ReportLinkRevokeApi(Door):
    needs = {"POST": "publish"}

    @records(NothingBody, ReportLinkRevoked, status=200)
    def post(self, actor: Actor, body: NothingBody, code: str, link: int) -> ReportLinkRevoked:
        """Take a public address away; it opens nothing any more."""
        return ReportLinkRevoked(report_link_revoke(actor, code, link))


class FileRenderer(BaseRenderer):
    """Stands for the one form that an address of a file has."""

    charset = None


def file_door(kind: str, about: str) -> type[Door]:
    """Make the door of one kind of file: as it was frozen, bit for bit."""
    media_type = CONTENT_TYPES[kind].partition(";")[0]
    renderer = (
        JSONRenderer
        if kind == JSON
        else type("Renderer", (FileRenderer,), {"media_type": media_type, "format": kind})
    )

    class ReportFileApi(Door):
        needs = {"GET": "read"}

        def get_renderers(self) -> list[BaseRenderer]:
            return [renderer()]

        @extend_schema(
            description=f"Fetch a frozen report: {about}.",
            responses={
                (200, media_type): OpenApiResponse(_shape(kind), about),
                **refusals_of_reading(),
            },
        )
        def get(self, request: Request, code: str) -> HttpResponse:
            name, held = report_file(actor_of(request), code, kind)
            answer = HttpResponse(held, content_type=CONTENT_TYPES[kind])
            answer["Content-Disposition"] = content_disposition_header(True, name)
            return answer

    ReportFileApi.__name__ = f"Report{kind.capitalize()}Api"
    return ReportFileApi


def _shape(kind: str) -> dict[str, object]:
    if kind == JSON:
        return {"type": "object", "description": "The report in its canonical form."}
    return {"type": "string"} if kind in (CSV, HTML) else {"type": "string", "format": "binary"}


ReportPdfApi = file_door(PDF, "as PDF, made to PDF/A-3a and PDF/UA-1, with the JSON inside")
ReportXlsxApi = file_door(XLSX, "as spreadsheet, a sheet for each table")
ReportCsvApi = file_door(CSV, "as CSV, a row for each figure, masses in mg")
ReportJsonApi = file_door(JSON, "as JSON; the report's digest is the SHA-256 of these bytes")
ReportHtmlApi = file_door(HTML, "as a page that needs nothing else")


urlpatterns = [
    path("reports/", ReportsApi.as_view()),
    path("reports/<str:code>.pdf", ReportPdfApi.as_view()),
    path("reports/<str:code>.xlsx", ReportXlsxApi.as_view()),
    path("reports/<str:code>.csv", ReportCsvApi.as_view()),
    path("reports/<str:code>.json", ReportJsonApi.as_view()),
    path("reports/<str:code>.html", ReportHtmlApi.as_view()),
    path("reports/<str:code>/", ReportApi.as_view()),
    path("reports/<str:code>/changes/", ReportChangesApi.as_view()),
    path("reports/<str:code>/links/", ReportLinksApi.as_view()),
    path("reports/<str:code>/links/<int:link>/revoke/", ReportLinkRevokeApi.as_view()),
]
