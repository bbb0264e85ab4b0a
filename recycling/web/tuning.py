"""Earlier runs that worked like material."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _

from recycling.queries.tuning.similar_runs import closest_runs
from recycling.records.actors import Actor
from recycling.web.pages.read import reading


@reading
def closest(request: HttpRequest, actor: Actor, code: str) -> HttpResponseBase:
    """Show earlier runs of like material."""
    shown = {
        "nav": "stock",
        "code": code,
        "runs": closest_runs(actor, code),
        "crumbs": [(code, reverse("lot", args=[actor.slug, code])), (_("Closest runs"), "")],
    }
    return render(request, "tuning/closest.html", shown)


urlpatterns = [
    path("lots/<str:code>/closest/", closest, name="lot-closest"),
]
