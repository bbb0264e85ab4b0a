"""Checks of a lot at the stages: particles, drying, filament, settings, earlier runs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from recycling.queries.quality.checks import lot_checks
from recycling.records.actors import Actor
from recycling.records.quality.checks import LotChecks
from recycling.records.quality.entries import FilamentEntry, ParticlesEntry
from recycling.services.quality.measurements import SHREDDED, filament_measure, particles_measure
from recycling.web.forms.entry_parts import EntryFields, ValuesField
from recycling.web.forms.fields import MomentField, NumberField
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.pages.read import reading

FED = ("dried flake", "pellets", "filament")


@reading
def checks(request: HttpRequest, actor: Actor, code: str) -> HttpResponseBase:
    """Show what was checked of a lot."""
    record = lot_checks(actor, code)
    shown = {
        "nav": "spools" if record.filament else "stock",
        "checks": record,
        "closest_shown": record.form in FED,
        "actions": _actions(actor, record),
        "crumbs": [(code, reverse("lot", args=[actor.slug, code])), (_("Checks"), "")],
    }
    return render(request, "quality/checks.html", shown)


def _actions(actor: Actor, record: LotChecks) -> list[dict[str, str]]:
    if not actor.may("record"):
        return []
    wanted = []
    if record.form in SHREDDED:
        wanted.append(("lot-particles", _("Measure particles")))
    if record.form == "filament":
        wanted.append(("lot-filament", _("Measure the diameter")))
    if record.state and record.state.state == "failed" and not record.state.second_choice:
        wanted.append(("lot-second-choice", _("Release as second choice")))
    if record.drying:
        wanted.append(("lot-event", _("Note that it was sealed or opened")))
    return [
        {"url": reverse(name, args=[actor.slug, record.lot]), "label": label}
        for name, label in wanted
    ]


def _measure(
    request: HttpRequest,
    actor: Actor,
    code: str,
    texts: tuple[str, str, str],
    fields: EntryFields,
    deed: Callable[[Actor, Any], str],
) -> HttpResponse:
    record = lot_checks(actor, code)
    title, lede, done = texts
    url = reverse("lot-checks", args=[actor.slug, record.lot])
    sheet = Sheet(
        title,
        _("Keep what was measured"),
        [fields],
        lambda acting, values: deed(acting, values["entry"]),
        lambda result, _values: Saved(
            result, done, (Step(_("See what it means"), url, primary=True),), url=url
        ),
        context={
            "lede": lede,
            "lot": {"code": record.lot, "form": record.form},
            "crumbs": [(record.lot, reverse("lot", args=[actor.slug, record.lot])), (title, "")],
        },
        nav="stock",
    )
    return enter(request, actor, sheet)


@recording("record")
def particles(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    fields = {
        "sizes_mm": ValuesField(
            _("Largest dimension of each particle, mm"),
            required=True,
            help_text=_("Take a spoonful without choosing and measure all of it."),
        ),
        "measured_at": MomentField(_("When"), help_text=_("Leave empty for now.")),
    }
    texts = (
        _("Measure particles"),
        _("How large the flake is, and whether it may be fed."),
        _("The sample is kept, with the limit that holds now."),
    )
    entry = EntryFields(ParticlesEntry, fields, lot=code)
    return _measure(request, actor, code, texts, entry, particles_measure)


@recording("record")
def filament(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    fields = {
        "first_mm": ValuesField(
            _("Diameters, mm"), required=True, help_text=_("One after another, in the order read.")
        ),
        "second_mm": ValuesField(
            _("At right angles, at the same places, mm"), help_text=_("For the ovality.")
        ),
        "length_m": NumberField(
            _("Length on the spool"), unit="m", help_text=_("Only when it was measured.")
        ),
        "measured_at": MomentField(_("When"), help_text=_("Leave empty for now.")),
    }
    texts = (
        _("Measure the diameter"),
        _("Against the spool's tolerance, with what it means for a printer's flow."),
        _("The readings are kept."),
    )
    entry = EntryFields(FilamentEntry, fields, lot=code)
    return _measure(request, actor, code, texts, entry, filament_measure)
