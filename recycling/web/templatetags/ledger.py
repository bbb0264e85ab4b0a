"""How figures are written on pages."""

from __future__ import annotations

from decimal import Decimal

from django import template
from django.utils.formats import number_format

from shared.units import show_mass

register = template.Library()
register.filter("mass", show_mass)


@register.filter
def percent(share: float | None) -> str:
    """Write a share in percent, three significant digits, by locale."""
    if share is None:
        return "–"
    text = f"{100 * share:.3g}"
    if "e-" in text:
        return f"< {number_format(Decimal('0.0001'), use_l10n=True)}\N{NARROW NO-BREAK SPACE}%"
    figure = text if "e" in text else number_format(Decimal(text), use_l10n=True)
    return f"{figure}\N{NARROW NO-BREAK SPACE}%".replace("-", "\N{MINUS SIGN}", 1)


@register.filter
def percent_with(share: float | None, u: float | None) -> str:
    """Write a share and what stands behind ± to the same place, that of its second digit."""
    if share is None or not u:
        return percent(share)
    places = max(1 - Decimal(f"{100 * u:.1e}").adjusted(), 0)
    both = (number_format(Decimal(f"{100 * one:.{places}f}"), use_l10n=True) for one in (share, u))
    return "\N{NO-BREAK SPACE}±\N{NO-BREAK SPACE}".join(both) + "\N{NARROW NO-BREAK SPACE}%"
