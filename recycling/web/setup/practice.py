"""How the workshop works: prices, factors, limits, windows and recipes, with their sources."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from recycling.queries.energy import prices as energy_prices
from recycling.queries.energy.machines import machine_page
from recycling.queries.setup.practice import materials, practices, windows
from recycling.queries.setup.register import polymers
from recycling.records.actors import Actor
from recycling.records.setup.first_settings import PRACTICES
from recycling.records.setup.practice import (
    MATERIAL_FIELDS,
    BarrelEntry,
    MaterialEntry,
    MaterialField,
    MaterialRow,
    PracticeEntry,
    WindowEntry,
)
from recycling.services.setup.practice import barrel_set, material_set, practice_set, window_set
from recycling.web.forms.entry_parts import EntryFields, machine_crumbs
from recycling.web.forms.fields import NumberField, Typed, WholeField, choice_field
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording


def material_title(kind: str) -> str:
    return {
        "limits": _("Limits of plastics"),
        "drying": _("Drying recipes"),
        "heats": _("Heats of polymers"),
        "hydrolysis": _("Moisture and viscosity of polymers"),
        "regain": _("Water taken up while open"),
    }[kind]


def source_field() -> Typed:
    return Typed(
        _("Where it comes from"),
        size="long",
        required=True,
        help_text=_("A data sheet, a manual, or your own trials with their date."),
    )


def _cell(row: MaterialRow, field: MaterialField) -> tuple[str | float | None, str]:
    """Give a number, or yes or no, beside its source where the row has several."""
    value: str | float | None = row.values.get(field.key)
    if field.yes_no and value is not None:
        value = _("yes") if value else _("no")
    several = len(set(row.sources.values())) > 1
    return value, row.sources.get(field.key, "") if several else ""


@recording("read")
def practice(request: HttpRequest, actor: Actor) -> HttpResponse:
    """List everything that can be changed of how the workshop works."""
    shown = {
        "nav": "set-up",
        "practices": practices(actor),
        "windows": windows(actor),
        "tariffs": energy_prices.tariffs(actor),
        "factors": energy_prices.factors(actor),
        "materials": [
            {
                "kind": kind,
                "title": material_title(kind),
                "fields": fields,
                "rows": [
                    (one, [_cell(one, field) for field in fields]) for one in materials(actor, kind)
                ],
            }
            for kind, fields in MATERIAL_FIELDS.items()
        ],
        "may": actor.may("manage"),
        "crumbs": [(_("Workshop"), reverse("set-up", args=[actor.slug])), (_("Practice"), "")],
    }
    return render(request, "setup/practice.html", shown)


def enter_practice(
    request: HttpRequest,
    actor: Actor,
    title: str,
    lede: str,
    fields: EntryFields,
    deed: Callable[[Actor, Any], Any],
    initial: dict[str, Any] | None = None,
) -> HttpResponse:
    url = reverse("practice", args=[actor.slug])
    crumbs = [(_("Workshop"), reverse("set-up", args=[actor.slug])), (_("Practice"), url)]
    sheet = Sheet(
        title,
        _("Keep it"),
        [fields],
        lambda acting, values: deed(acting, values["entry"]),
        lambda _result, _values: Saved(
            title,
            _("It holds from now on; what was before stays in the history."),
            (Step(_("Back to practice"), url, primary=True),),
            url=url,
        ),
        initial=initial or {},
        context={"lede": lede, "crumbs": [*crumbs, (title, "")]},
        nav="set-up",
    )
    return enter(request, actor, sheet)


@recording("manage")
def practice_change(request: HttpRequest, actor: Actor, key: str) -> HttpResponse:
    field = next((one for one in PRACTICES if one.key == key), None)
    if field is None:
        raise Http404(key)
    now = next(one for one in practices(actor) if one.key == key)
    fields = {
        "value": NumberField(_("Value"), unit=field.unit, required=True),
        "source": source_field(),
    }
    lede = _("Now %(value)g %(unit)s, %(source)s.") % {
        "value": now.value,
        "unit": now.unit,
        "source": now.source,
    }
    entry = EntryFields(PracticeEntry, fields, key=key)
    return enter_practice(request, actor, _(field.label), lede, entry, practice_set)


@recording("manage")
def window_change(request: HttpRequest, actor: Actor) -> HttpResponse:
    kinds = [("polymer", _("polymer")), ("purge compound", _("purge compound"))]
    fields = {
        "material": Typed(
            _("Material"),
            required=True,
            help_text=_("Symbol of the polymer, or name of the purge compound."),
        ),
        "kind": choice_field(_("It is a"), kinds, required=True, initial="polymer"),
        "low_c": NumberField(_("From"), unit="°C", required=True),
        "high_c": NumberField(_("To"), unit="°C", required=True),
        "source": source_field(),
    }
    lede = _("The temperatures at which it is processed, from its data sheet.")
    initial = {name: request.GET[name] for name in ("material", "kind") if name in request.GET}
    entry = EntryFields(WindowEntry, fields)
    return enter_practice(request, actor, _("Processing window"), lede, entry, window_set, initial)


def _number(field: MaterialField) -> Any:
    if field.yes_no:
        return choice_field(
            _(field.label), [("1", _("yes")), ("0", _("no"))], required=field.needed
        )
    return NumberField(_(field.label), unit=field.unit, required=field.needed)


@recording("manage")
def material_change(request: HttpRequest, actor: Actor, kind: str) -> HttpResponse:
    if kind not in MATERIAL_FIELDS:
        raise Http404(kind)
    declared = MATERIAL_FIELDS[kind]
    choices = [(one.code, one.code) for one in polymers(actor)]
    fields: dict[str, Any] = {"polymer": choice_field(_("Polymer"), choices, required=True)}
    for field in declared:
        fields[field.key] = _number(field)
    fields["source"] = source_field()
    known = {one.polymer: one for one in materials(actor, kind)}
    asked = request.GET.get("polymer", "")
    initial: dict[str, Any] = {"polymer": asked}
    if asked in known:
        initial |= {key: f"{value:.9g}" for key, value in known[asked].values.items()}

    def entry(polymer: str, source: str = "", **values: str | float) -> MaterialEntry:
        numbers = {key: float(value) for key, value in values.items()}
        return MaterialEntry(polymer, kind, numbers, source)

    lede = _("Estimates and checks rest on these; they are shown with their source.")
    made = EntryFields(entry, fields)
    return enter_practice(request, actor, material_title(kind), lede, made, material_set, initial)


@recording("record")
def barrel_change(request: HttpRequest, actor: Actor, machine: int) -> HttpResponse:
    """Set the hold-up of a machine's barrel; a refitted one may be handed in by the address."""
    page = machine_page(actor, machine)
    title, url = _("Hold-up of the barrel"), reverse("changeover", args=[actor.slug, machine])
    fields = {
        "holdup_g": NumberField(
            _("Melt in the barrel"),
            unit="g",
            required=True,
            help_text=_("What comes out when it is emptied, or a hold-up refitted from use."),
        ),
        "plug_share": NumberField(
            _("Share that moves as a plug, 0 to 1"), help_text=_("Leave empty for 0.")
        ),
        "tanks": WholeField(_("Stirred tanks for the rest"), help_text=_("Leave empty for 1.")),
        "source": source_field(),
    }
    names = ("holdup_g", "plug_share", "tanks", "source")
    initial = {name: request.GET[name][:200] for name in names if name in request.GET}
    sheet = Sheet(
        title,
        _("Keep it"),
        [EntryFields(BarrelEntry, fields, machine=machine)],
        lambda acting, values: barrel_set(acting, values["entry"]),
        lambda _result, _values: Saved(
            page.name,
            _("The hold-up is kept; plans from now on use it."),
            (Step(_("Plan a changeover"), url, primary=True),),
            url=url,
        ),
        initial=initial,
        context={"crumbs": machine_crumbs(actor, machine, page.name, title)},
        nav="machines",
    )
    return enter(request, actor, sheet)
