"""What the square on a label opens: a public page where it carries a token, else the thing's."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_safe

from recycling.web.pages.read import code_url
from shared.codes import read_code


@require_safe
def label(request: HttpRequest, of: str, code: str, token: str | None = None) -> HttpResponse:
    """Lead on; the address of a label is in capitals, and those of pages are not."""
    if token:
        request.logged_path = reverse("label-opened", args=[of, code, "-"])  # type: ignore[attr-defined]
        answer = redirect(reverse("public-spool", args=[token]))
        answer["Cache-Control"] = "no-store"
        return answer
    slug = of.lower()
    found = read_code(code)
    page = code_url(slug, found) if found else ""
    return redirect(page or f"{reverse('find', args=[slug])}?{urlencode({'code': code})}")
