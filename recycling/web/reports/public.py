"""A report at its public address: without an account, with its files, and any file verified."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods, require_safe

from recycling.records.reports.rows import PublicReport
from recycling.reports.pages import public_table
from recycling.reports.public import public_file, public_report, public_verify
from recycling.tables.reports.csv_file import table_csv
from recycling.web.reports.deeds import TOLD_BY_ITSELF, is_too_large, uploaded_digest
from recycling.web.reports.pages import file_answer
from recycling.web.reports.words import FILES, set_document
from shared.errors import Unknown

View = Callable[..., HttpResponse]


def _public(view: View) -> View:
    """Keep the token out of logs, caches and search engines; say nothing of why it opens none."""

    @wraps(view)
    def answer(request: HttpRequest, token: str, **named: str) -> HttpResponse:
        request.logged_path = reverse("public-report", args=["-"])  # type: ignore[attr-defined]
        try:
            shown = view(request, token, **named)
        except Unknown:
            shown = render(request, "reports/gone.html", status=404)
        shown["Cache-Control"] = "no-store"
        shown["X-Robots-Tag"] = "noindex, nofollow"
        return shown

    return answer


@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
@_public
def report(request: HttpRequest, token: str) -> HttpResponse:
    """Show a report; look at the size of what is sent before any of it is read."""
    found = public_report(token)
    if request.method == "POST":
        if is_too_large(request):
            return _show(request, token, found, 413, too_large=True)
        return _verify(request, token, found)
    return _show(request, token, found)


report.largest_request = TOLD_BY_ITSELF  # type: ignore[attr-defined]


@csrf_protect
def _verify(request: HttpRequest, token: str, found: PublicReport) -> HttpResponse:
    digest = uploaded_digest(request)
    if not digest:
        return _show(request, token, found, 422, no_file=True)
    verified = public_verify(token, digest)
    said = FILES.get(verified.kind, "")
    return _show(request, token, found, verified=verified, file_said=said)


@require_safe
@_public
def download(request: HttpRequest, token: str, kind: str) -> HttpResponse:
    name, held = public_file(token, kind)
    return file_answer(name, held, kind)


@require_safe
@_public
def table(request: HttpRequest, token: str, key: str) -> HttpResponse:
    found = public_table(token, key)
    return file_answer(f"{key}.csv", table_csv(found).encode(), "csv")


def _show(
    request: HttpRequest, token: str, found: PublicReport, status: int = 200, **more: Any
) -> HttpResponse:
    here = reverse("public-report", args=[token])
    files = [
        {"file": one, "label": FILES[one.kind], "url": f"{here}files/{one.kind}/"}
        for one in found.files
    ]
    context: dict[str, Any] = {
        "found": found,
        "files": files,
        "verify_url": here,
        "csv_base": f"{here}tables/",
        **set_document(found.frozen),
        **more,
    }
    with timezone.override(zoneinfo.ZoneInfo(found.zone)):
        return render(request, "reports/public.html", context, status=status)
