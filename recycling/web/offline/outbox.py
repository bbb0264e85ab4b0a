"""The outbox of a device: its page, whom it is asked for, what to keep, and what was discarded."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from recycling.queries.lots.lots import lot_page
from recycling.queries.runs.open_runs import open_run_codes
from recycling.records.actors import Actor
from recycling.records.recorded import DiscardEntry
from recycling.services.runs.entry_discard import entry_discard
from recycling.stages import STAGES
from recycling.stages.declaration import RECEIVED
from recycling.web.forms.fields import LinesField, Typed
from recycling.web.forms.forms import MADE_AT, EntryForm, Row
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.lots.lots import RECORDED_OF_A_LOT, deeds_on
from recycling.web.pages.read import reading
from shared.codes import read_code

IN_A_RUN = ("run-draw", "run-output", "run-loss", "run-note", "run-close")


@reading
def outbox(request: HttpRequest, actor: Actor) -> HttpResponse:
    secure = request.is_secure() or request.get_host().partition(":")[0] in (
        "localhost",
        "127.0.0.1",
    )
    return render(request, "offline/outbox.html", {"nav": "outbox", "plain_http": not secure})


@reading
def who(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Say as whom this browser would record, with a token for its next entries."""
    answer = JsonResponse({"member": str(actor.reference), "token": get_token(request)})
    answer["Cache-Control"] = "no-store"
    return answer


@reading
def kept_pages(request: HttpRequest, actor: Actor) -> HttpResponse:
    """List the pages that a device keeps: those that record, or those of a lot that was seen."""
    code = read_code(request.GET.get("lot", ""))
    pages = _pages_of_lot(actor, code) if code else _pages(actor)
    answer = JsonResponse({"pages": pages})
    answer["Cache-Control"] = "no-store"
    return answer


def _pages(actor: Actor) -> list[str]:
    pages = [reverse("outbox", args=[actor.slug])]
    if not actor.may("record"):
        return pages
    names = ("record", "collection-new", "purchase-new")
    pages += [reverse(name, args=[actor.slug]) for name in names]
    pages += [reverse("record-stage", args=[actor.slug, one.key]) for one in STAGES]
    worked = [one for one in STAGES if one.border != RECEIVED and not one.border and not one.counts]
    pages += [reverse("run-open", args=[actor.slug, one.key]) for one in worked]
    for code in open_run_codes(actor):
        pages += [reverse(name, args=[actor.slug, code]) for name in IN_A_RUN]
    return pages


def _pages_of_lot(actor: Actor, code: str) -> list[str]:
    names = [name for name, _said in deeds_on(actor, lot_page(actor, code))]
    kept = ["lot", *(name for name in names if name in RECORDED_OF_A_LOT)]
    return [reverse(name, args=[actor.slug, code]) for name in kept]


class Discarded:
    """What was thrown away on the device, and why."""

    key = "entry"

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("discarded").rows.append(row)
        form.add(row, "what", LinesField(_("What was discarded"), required=True))
        form.add(row, "reason", Typed(_("Why"), required=True))
        form.add(row, "key_was", Typed(_("Its key"), max_length=200))

    def read(self, form: EntryForm) -> DiscardEntry:
        for name in ("what", "reason"):
            form.point(f"/{name}", "", itself=name)
        given = form.cleaned_data
        return DiscardEntry(given["what"], given["reason"], given["key_was"], form.typed(MADE_AT))


@recording("verdict")
def discarded(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Keep in the history that an entry was thrown away on a device."""
    url = reverse("outbox", args=[actor.slug])
    if request.method != "POST":
        return redirect(url)

    def saved(result: str, values: Any) -> Saved:
        return Saved("", _("Discarded: %s") % values["entry"].reason, (Step(_("Outbox"), url),))

    sheet = Sheet(
        _("Discard an entry"),
        _("Discard it"),
        [Discarded()],
        lambda acting, values: entry_discard(acting, values["entry"]),
        saved,
    )
    return enter(request, actor, sheet)
