"""The public address of a spool: shown with its square code, given out, taken away."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from recycling.queries.quality.verdicts import spool_link
from recycling.records.actors import Actor
from recycling.services.labels import link_give, link_revoke
from recycling.web.pages.press import done_once, pressing, say_refused
from recycling.web.pages.read import reading
from shared.errors import Refused, Unknown


@reading
def link(request: HttpRequest, actor: Actor, code: str) -> HttpResponseBase:
    found = spool_link(actor, code)
    address = ""
    if found.token:
        address = request.build_absolute_uri(reverse("public-spool", args=[found.token]))
    context = {
        "nav": "spools",
        "link": found,
        "address": address,
        "square": _square(address) if address else "",
        "may": actor.may("record"),
    }
    answer = render(request, "labels/link.html", context)
    answer["Cache-Control"] = "no-store"
    return answer


def _square(address: str) -> str:
    """Draw the address as a QR code (ISO/IEC 18004), as SVG without styles."""
    import segno

    return segno.make(address, error="m", micro=False).svg_inline(
        scale=5, border=4, dark="#000", light="#fff", omitsize=False
    )


@pressing("record")
def change(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Give a spool a public address, or take it away."""
    try:
        if request.POST.get("deed") == "revoke":
            done_once(request, actor, lambda acting: link_revoke(acting, code))
            messages.success(request, _("The address opens nothing any more."))
        else:
            done_once(request, actor, lambda acting: link_give(acting, code).lot)
            messages.success(request, _("The spool has a public address now."))
    except Unknown as unknown:
        if unknown.problems[0].code != "link-unknown":
            raise
        say_refused(request, unknown)
    except Refused as refused:
        say_refused(request, refused)
    return redirect(reverse("spool-link", args=[actor.slug, code]))
