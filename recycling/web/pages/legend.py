"""The shapes of lot forms, the line styles of roles and the signs of states, explained."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_safe

from recycling.figures.shapes import LINES, SHAPES
from recycling.web.words import STATES


@require_safe
def legend(request: HttpRequest, slug: str = "") -> HttpResponseBase:
    context = {"shapes": SHAPES.values(), "lines": LINES.values(), "states": list(STATES)}
    return render(request, "pages/legend.html", context)
