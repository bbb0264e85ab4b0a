"""Archives of the whole workshop: asked for, followed, fetched until they expire."""

from __future__ import annotations

from django.http import FileResponse
from django.urls import path
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request

from api.protocol.answers import AuditDone
from api.protocol.authentication import actor_of
from api.protocol.description import refusals_of_reading
from api.protocol.requests import Door, lists, records, shows
from recycling.queries.integrity.archives import archive_file, archive_made, archives_made
from recycling.queries.integrity.audit import audit
from recycling.records.actors import Actor
from recycling.records.integrity import ArchiveEntry, ArchiveRow
from recycling.services.integrity.archive_make import archive_ask

ZIP = "application/zip"


class ArchivesApi(Door):
    needs = {"GET": "manage", "POST": "manage"}

    @lists(ArchiveRow)
    def get(self, actor: Actor) -> list[ArchiveRow]:
        """List the latest archives of the workshop, the newest first."""
        return archives_made(actor)

    @records(ArchiveEntry, ArchiveRow, status=202)
    def post(self, actor: Actor, entry: ArchiveEntry) -> ArchiveRow:
        """Have the whole workshop written into one file in the background; follow it by number."""
        return archive_made(actor, archive_ask(actor, entry))


class ArchiveApi(Door):
    needs = {"GET": "manage"}

    @shows(ArchiveRow)
    def get(self, actor: Actor, number: int) -> ArchiveRow:
        """Show how far an archive is, and the SHA-256 of its file once it is "ready"."""
        return archive_made(actor, number)


class ZipRenderer(BaseRenderer):
    media_type, format, charset = ZIP, "zip", None


class ArchiveFileApi(Door):
    needs = {"GET": "manage"}

    def get_renderers(self) -> list[BaseRenderer]:
        return [ZipRenderer()]

    @extend_schema(
        description="Fetch an archive's file until it expires; restore_workshop puts it back.",
        responses={
            (200, ZIP): OpenApiResponse({"type": "string", "format": "binary"}, "The archive."),
            **refusals_of_reading(),
        },
    )
    def get(self, request: Request, number: int) -> FileResponse:
        name, place = archive_file(actor_of(request), number)
        answer = FileResponse(place.open("rb"), as_attachment=True, filename=name, content_type=ZIP)
        answer["Cache-Control"] = "no-store"
        return answer


class AuditApi(Door):
    needs = {"GET": "read"}

    @shows(AuditDone, rows_of=lambda done: done.findings)
    def get(self, actor: Actor) -> AuditDone:
        """Check the invariants of the book now, for this workshop."""
        findings = tuple(audit(actor.workshop_id))
        return AuditDone(not findings, findings)


urlpatterns = [
    path("archives/", ArchivesApi.as_view()),
    path("archives/<int:number>/", ArchiveApi.as_view()),
    path("archives/<int:number>.zip", ArchiveFileApi.as_view()),
    path("audit/", AuditApi.as_view()),
]
