"""Any code, typed or scanned, leads to its page; anything else to what can be searched."""

from __future__ import annotations

import re

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse

from recycling.queries.lots.codes import lot_behind
from recycling.records.actors import Actor
from recycling.web.pages.mistyped import not_a_code
from recycling.web.pages.read import code_url, reading, show
from shared.codes import read_scan

_PUBLIC = re.compile(r"^https?://[^/?#]+/v/([\w-]{20,60})/?$", re.ASCII | re.IGNORECASE)


@reading
def find(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    typed = request.GET.get("code", "").strip()
    if not typed:
        return show(request, "pages/find.html", "find")
    scanned = read_scan(typed)
    if scanned is None:
        public = _PUBLIC.match(typed)
        code = lot_behind(actor, public[1]) if public else ""
        return redirect(code_url(actor.slug, code)) if code else not_a_code(request, typed)
    if scanned.slug not in ("", actor.slug.lower()):
        return redirect(reverse("label-opened", args=[scanned.slug, scanned.code]))
    return redirect(code_url(actor.slug, scanned.code))
