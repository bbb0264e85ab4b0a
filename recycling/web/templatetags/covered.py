"""How a figure is written with what covers 95 % of the truths, and why that much."""

from __future__ import annotations

from django import template
from django.utils.formats import get_format
from django.utils.html import format_html
from django.utils.safestring import SafeString

from recycling.records.balance.covered import Covered
from recycling.web.energy.previews import figure, places_of
from recycling.web.templatetags.ledger import percent, percent_with
from recycling.web.templatetags.look import uncertainty_text

register = template.Library()
NO_BREAK = "\N{NO-BREAK SPACE}"


def _opens(said: str, one: Covered) -> SafeString:
    """Write a figure that opens to what its half-interval rests on; works without a script."""
    return format_html(
        '<details class="covered"><summary>{}</summary> <small>{}</small></details>',
        said,
        one.said(str(get_format("DECIMAL_SEPARATOR"))),
    )


@register.simple_tag
def pm_mass(one: Covered | None) -> str:
    """Write ± and a mass, mg; nothing for an exact figure."""
    if one is None or not one.half:
        return ""
    return _opens(f"±{NO_BREAK}{uncertainty_text(round(one.half))}", one)


@register.simple_tag
def pm_share(share: float | None, one: Covered | None) -> str:
    """Write a share in percent with its ±."""
    if share is None or one is None or not one.half:
        return percent(share)
    return _opens(percent_with(share, one.half), one)


@register.simple_tag
def pm(value: float | None, one: Covered | None, unit: str = "", places: int = 3) -> str:
    """Write a number with its ± to the second digit of that; a dash for none."""
    if value is None:
        return "–"
    behind = f"{NO_BREAK}{unit}" if unit else ""
    if one is None or not one.half:
        return f"{figure(value, places)}{behind}"
    places = places_of(one.half)
    both = f"{figure(value, places)} ±{NO_BREAK}{figure(one.half, places)}{behind}"
    return _opens(both, one)
