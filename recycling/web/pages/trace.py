"""The page from which anything is traced: a code to scan or type, and what can be looked up."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase

from recycling.records.actors import Actor
from recycling.web.pages.menu import trace_groups
from recycling.web.pages.read import reading, show


@reading
def trace(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    return show(request, "pages/trace.html", "trace", groups=trace_groups(actor))
