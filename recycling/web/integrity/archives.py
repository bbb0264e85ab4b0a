"""The whole workshop as one file: asked for, followed while it is made, fetched by a lead."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext_lazy as _

from recycling.queries.integrity.archives import archive_file, archive_made
from recycling.records.actors import Actor
from recycling.records.integrity import ArchiveEntry
from recycling.services.integrity.archive_make import archive_ask
from recycling.web.pages.press import done_once, pressing
from recycling.web.pages.read import reading, show

STEPS = {
    "waiting": _("Waiting for its turn"),
    "writing": _("Writing every fact"),
    "checking": _("Reading it again, to be sure"),
    "done": _("Done"),
}


@pressing("manage")
def archive_new(request: HttpRequest, actor: Actor) -> HttpResponse:
    entry = ArchiveEntry(people=request.POST.get("people") == "on")
    number = done_once(request, actor, lambda acting: archive_ask(acting, entry))
    return redirect("export-archive-made", actor.slug, number)


@reading
def archive_page(request: HttpRequest, actor: Actor, number: int) -> HttpResponseBase:
    """Show how far an archive is; a poll gets that part only."""
    _only_leads(actor)
    found, polls = archive_made(actor, number), request.headers.get("HX-Request")
    context: dict[str, Any] = {
        "found": found,
        "step": STEPS[found.step],
        "done_percent": round(100 * found.done_share),
    }
    if polls and found.state != "making":
        answer = HttpResponse()
        answer["HX-Refresh"] = "true"
        return answer
    if polls:
        return render(request, "integrity/archive_making.html", context)
    return show(request, "integrity/archive.html", "balance", **context)


@reading
def archive_download(request: HttpRequest, actor: Actor, number: int) -> HttpResponseBase:
    """Give a lead the file."""
    _only_leads(actor)
    name, place = archive_file(actor, number)
    file = place.open("rb")
    answer = FileResponse(file, as_attachment=True, filename=name, content_type="application/zip")
    answer["Cache-Control"] = "no-store"
    return answer


def _only_leads(actor: Actor) -> None:
    if not actor.may("manage"):
        raise PermissionDenied
