"""What to say of a code that is mistyped, and what was probably meant."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import register_converter
from django.urls.converters import StringConverter

from recycling.queries.lots.codes import meant
from shared.slips import looks_like_code


class TypedCode(StringConverter):
    """Anything with a figure in it, so that a mistyped code gets an answer of its own."""

    regex = "(?=[^/]*[0-9])[^/]{1,40}"


register_converter(TypedCode, "typed_code")


def not_a_code(request: HttpRequest, typed: str) -> HttpResponse:
    """Say that the check character does not fit, with what of this workshop was probably meant."""
    context = {
        "typed": typed[:80],
        "looks_like_code": looks_like_code(typed),
        "suggestions": meant(request.actor, typed),  # type: ignore[attr-defined]
    }
    return render(request, "pages/find.html", context, status=404)
