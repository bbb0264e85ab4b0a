"""What electricity costs, and the carbon of it, with their sources."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _

from recycling.calc.energy.factors import KG_PER_KWH
from recycling.records.actors import Actor
from recycling.records.energy.entries import FactorEntry, TariffEntry
from recycling.services.energy.prices import factor_add, tariff_add
from recycling.web.forms.entry_parts import EntryFields
from recycling.web.forms.fields import DayField, NumberField, Typed, WholeField, choice_field
from recycling.web.forms.page import recording
from recycling.web.setup.practice import enter_practice, source_field


def _days() -> dict[str, Any]:
    today = timezone.localdate()
    return {
        "read_date": DayField(_("Read on"), required=True, initial=today),
        "valid_from": DayField(_("Holds from"), required=True, initial=today),
    }


@recording("manage")
def tariff_new(request: HttpRequest, actor: Actor) -> HttpResponse:
    fields = {
        "price_per_kwh": NumberField(_("Price of a kilowatt-hour"), required=True),
        "currency": Typed(
            _("Currency"), size="short", required=True, help_text=_("Three letters, as EUR.")
        ),
        "source": source_field(),
        **_days(),
    }
    lede = _("Costs are only shown for runs from the day it holds.")
    entry = EntryFields(TariffEntry, fields)
    return enter_practice(request, actor, _("Price of electricity"), lede, entry, tariff_add)


@recording("manage")
def factor_new(request: HttpRequest, actor: Actor) -> HttpResponse:
    fields = {
        "value": NumberField(_("Factor"), required=True),
        "unit": choice_field(
            _("Unit, of CO₂-equivalent"), [(one, one) for one in KG_PER_KWH], required=True
        ),
        "scope": Typed(
            _("What is counted"),
            size="long",
            required=True,
            help_text=_("Generation only, with losses of the grid, with fuel supply."),
        ),
        "region": Typed(_("Where it holds"), required=True),
        "year": WholeField(_("For the year"), required=True),
        "publisher": Typed(_("Publisher and publication"), size="long", required=True),
        **_days(),
    }
    lede = _("As its publisher states it; without one no carbon is shown.")
    entry = EntryFields(FactorEntry, fields)
    return enter_practice(request, actor, _("Carbon of electricity"), lede, entry, factor_add)
