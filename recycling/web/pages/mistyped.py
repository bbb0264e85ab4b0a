"""What to say of a code that is mistyped, and what was probably meant."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from recycling.queries.lots.codes import meant
from shared.slips import looks_like_code


def not_a_code(request: HttpRequest, typed: str) -> HttpResponse:
    """Say that the check character does not fit, with what of this workshop was probably meant."""
    context = {
        "typed": typed[:80],
        "looks_like_code": looks_like_code(typed),
        "suggestions": meant(request.actor, typed),  # type: ignore[attr-defined]
    }
    return render(request, "pages/find.html", context, status=404)
