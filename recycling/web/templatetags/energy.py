"""Figures of energy on pages, and what stands beside a run and a machine."""

from __future__ import annotations

from collections.abc import Iterable

from django import template
from django.template import Context
from django.utils.formats import number_format
from django.utils.translation import gettext

from recycling.queries.process import purges
from recycling.queries.quality import checks
from recycling.queries.tuning import setting_waits
from recycling.records.energy.figures import RunEnergyRecord
from recycling.records.lots.lots import LotRecord
from recycling.records.process.changeovers import ShutdownAdvice
from recycling.records.quality.checks import FilamentRow
from recycling.records.quality.declared import ProductState
from recycling.records.runs.runs import RunInput, RunRecord
from recycling.records.tuning import Wait
from recycling.web.energy import previews, words
from recycling.web.languages import in_language

register = template.Library()
register.filter("part_said", words.part_said)
register.filter("phase_said", words.phase_said)
register.filter("fell_word", words.fell_said)
register.filter("method_said", words.method_said)
register.filter("file_state_said", words.file_state_said)
register.filter("file_kind_said", words.file_kind_said)
register.filter("in_language", in_language)


@register.filter
def fed(inputs: Iterable[RunInput]) -> list[RunInput]:
    """Choose of what a run drew what a good setting depends on, each lot once."""
    lots = {one.lot: one for one in inputs if one.form in ("dried flake", "pellets")}
    return list(lots.values())


@register.filter
def figure(value: float | None, places: int = 3) -> str:
    """Show a number by locale with so many decimals; a dash for none."""
    if value is None:
        return "–"
    return previews.figure(value, int(places))


@register.filter
def source_said(source: str) -> str:
    """Say where a value comes from; what is no source of its own is translated."""
    return "; ".join(gettext(part) if part else part for part in source.split("; "))


@register.filter
def plain_or(value: float | str | None) -> str:
    """Show a number as short as it is; words stay."""
    return value if isinstance(value, str) else plain(value)


@register.filter
def duration(minutes: float | None) -> str:
    """Show minutes as minutes, from two hours on as hours and minutes; a dash for none."""
    if minutes is None:
        return "–"
    whole = round(minutes)
    return f"{whole} min" if whole < 120 else f"{whole // 60} h {whole % 60:02d} min"


@register.simple_tag
def sure(value: float | None, u: float | None, places: int = 3) -> str:
    """Show a number ± what covers 95 % of it, with two digits of that; a dash for none."""
    return previews.sure(value, u, int(places))


@register.simple_tag
def sure_said(energy: RunEnergyRecord) -> str:
    """Say what the ± of a run's energy rests on."""
    return words.sure_said(energy)


@register.filter
def plain(value: float | None) -> str:
    """Show a number as short as it is, by locale."""
    if value is None:
        return "–"
    text = f"{value:.6g}"
    places = len(text.partition(".")[2]) if "e" not in text else 0
    return number_format(text, decimal_pos=places, use_l10n=True) if "e" not in text else text


@register.filter
def hours(seconds: float) -> str:
    """Show seconds as hours."""
    return f"{figure(seconds / 3600, 2)} h"


@register.simple_tag(takes_context=True)
def shutdown_advice(context: Context, code: str) -> ShutdownAdvice | None:
    """Propose the purge before an extrusion run is closed."""
    return purges.shutdown_advice(context["actor"], code)


@register.simple_tag(takes_context=True)
def spool_judged(
    context: Context, lot: LotRecord
) -> tuple[FilamentRow | None, ProductState | None]:
    """Give what is known of a spool's filament, and whether it is within its limits."""
    return checks.spool_judged(context["actor"], lot)


@register.simple_tag(takes_context=True)
def wait_in(context: Context, run: RunRecord) -> Wait | None:
    """Give the wait after the last change of a setting in a run that goes on."""
    return setting_waits.wait_in(context["actor"], run)
