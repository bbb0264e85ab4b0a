"""Verdicts that came in without an account: looked at, counted or set aside."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from recycling.queries.quality.verdicts import verdict_photo, verdicts_page
from recycling.records.actors import Actor
from recycling.records.quality.verdicts import VERDICT_STATES
from recycling.services.quality.verdict_decide import photo_remove, verdict_decide
from recycling.web.pages.press import done_once, pressing, say_refused
from recycling.web.pages.read import address_with, pager, reading
from shared.errors import Refused, Unknown


@reading
def verdicts(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    state = request.GET.get("state", "waiting")
    state = state if state in VERDICT_STATES else "waiting"
    page = verdicts_page(actor, state, request.GET.get("after", ""))
    labels = {
        "waiting": _("to look at"),
        "counted": _("counted"),
        "set aside": _("set aside"),
    }
    context = {
        "nav": "suspects",
        "page": page,
        "state": state,
        "may_decide": actor.may("moderate"),
        "states": [
            {
                "label": labels[key],
                "url": address_with(request, state=key, after=""),
                "current": key == state,
            }
            for key in labels
        ],
        "pager": pager(request, page),
    }
    return render(request, "quality/verdicts.html", context)


@reading
def photo(request: HttpRequest, actor: Actor, verdict: int) -> HttpResponseBase:
    answer = HttpResponse(verdict_photo(actor, verdict), content_type="image/jpeg")
    answer["Cache-Control"] = "private, no-store"
    answer["Content-Disposition"] = f'inline; filename="verdict-{verdict}.jpg"'
    return answer


@pressing("moderate")
def decide(request: HttpRequest, actor: Actor, verdict: int) -> HttpResponse:
    """Count a verdict, set it aside, or remove its photo."""
    deed, reason = request.POST.get("deed", ""), request.POST.get("reason", "")
    deeds = {
        "count": lambda acting: verdict_decide(acting, verdict, True, reason),
        "aside": lambda acting: verdict_decide(acting, verdict, False, reason),
        "photo": lambda acting: photo_remove(acting, verdict, reason),
    }
    said = {
        "count": _("The verdict on %s counts now."),
        "aside": _("The verdict on %s is set aside."),
        "photo": _("The photo with the verdict on %s is gone."),
    }
    if deed not in deeds:
        messages.error(request, _("Choose what to do with it."))
    else:
        try:
            code = done_once(request, actor, deeds[deed])
            messages.success(request, said[deed] % code)
        except Unknown:
            raise
        except Refused as refused:
            say_refused(request, refused)
    return redirect(reverse("verdicts", args=[actor.slug]))
