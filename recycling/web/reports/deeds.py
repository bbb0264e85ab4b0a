"""Buttons on a report's page: a public address given or taken away, a file verified."""

from __future__ import annotations

import hashlib
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt, csrf_protect

from recycling.records.actors import Actor
from recycling.reports.public import report_verify
from recycling.services.reports.links import report_link_give, report_link_revoke
from recycling.web.pages.press import done_once, pressing, say_refused
from recycling.web.reports.words import FILES
from shared.errors import Refused, Unknown

LARGEST_FILE = 32 * 2**20
TOLD_BY_ITSELF = LARGEST_FILE + 2**20
"""A file a little too large is told so by the page; one beyond that by the limit of requests."""


def uploaded_digest(request: HttpRequest) -> str:
    """Take the SHA-256 of the file that was sent; empty when none was, or an empty one."""
    sent = request.FILES.get("file")
    if sent is None or not sent.size:
        return ""
    digest = hashlib.sha256()
    for chunk in sent.chunks():
        digest.update(chunk)
    return digest.hexdigest()


def is_too_large(request: HttpRequest) -> bool:
    """Say whether what is sent is larger than any report's file; nothing of it is read yet."""
    sent = request.META.get("CONTENT_LENGTH") or "0"
    return not sent.isascii() or not sent.isdigit() or int(sent) > LARGEST_FILE


@pressing("publish")
def change(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Give a report a public address for a number of days, or take one away."""
    typed = request.POST.get("link", "")
    try:
        if typed:
            number = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 18 else 0
            done_once(request, actor, lambda acting: report_link_revoke(acting, code, number))
            messages.success(request, _("The address opens nothing any more."))
        else:
            days = request.POST.get("valid_days", "").strip()
            plain = int(days) if days.isascii() and days.isdigit() and len(days) < 6 else 0
            done_once(request, actor, lambda acting: report_link_give(acting, code, plain).link)
            messages.success(request, _("The report has a public address now."))
    except Unknown as unknown:
        if unknown.problems[0].code != "link-unknown":
            raise
        say_refused(request, unknown)
    except Refused as refused:
        say_refused(request, refused)
    return redirect(f"{reverse('report', args=[actor.slug, code])}#public")


@csrf_exempt
@pressing("read")
def verify(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Say whether a file is one of this report's; look at its size before any of it is read."""
    context = {"nav": "reports", "code": code, "back": reverse("report", args=[actor.slug, code])}
    context["verify_url"] = request.path
    if is_too_large(request):
        return render(request, "reports/verified.html", context | {"too_large": True}, status=413)
    return _verify(request, actor, context)


verify.largest_request = TOLD_BY_ITSELF


@csrf_protect
def _verify(request: HttpRequest, actor: Actor, context: dict[str, Any]) -> HttpResponse:
    code = context["code"]
    digest = uploaded_digest(request)
    if not digest:
        return render(request, "reports/verified.html", context | {"no_file": True}, status=422)
    found = report_verify(actor, code, digest)
    context |= {"verified": found, "file_said": FILES.get(found.kind, "")}
    return render(request, "reports/verified.html", context)
