"""How sure a machine's energy meter is."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _

from recycling.queries.energy.machines import machine_page
from recycling.records.actors import Actor
from recycling.records.setup.practice import MeterEntry
from recycling.services.setup.practice import meter_set
from recycling.web.forms.entry_parts import EntryFields, machine_crumbs
from recycling.web.forms.fields import NumberField, Typed
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording


@recording("record")
def meter_change(request: HttpRequest, actor: Actor, machine: int) -> HttpResponse:
    """Enter class and step of a machine's energy meter; what was there is handed in again."""
    page = machine_page(actor, machine)
    title, url = _("How sure its meter is"), reverse("machine", args=[actor.slug, machine])
    fields = {
        "class_percent": NumberField(
            _("Class: limit of error"),
            unit="%",
            help_text=_("On the meter's plate or in its manual: 1 for class 1."),
        ),
        "step_kwh": NumberField(
            _("Step of its counter"),
            unit="kWh",
            help_text=_("Leave empty for the last digit of its readings."),
        ),
        "source": Typed(_("Where it comes from"), size="long", required=True),
    }
    known = page.meter
    initial = {name: getattr(known, name) for name in fields} if known else {}
    sheet = Sheet(
        title,
        _("Keep it"),
        [EntryFields(MeterEntry, fields, machine=machine)],
        lambda acting, values: meter_set(acting, values["entry"]),
        lambda _result, _values: Saved(
            page.name,
            _("It is kept; the ± of its energy follows from it."),
            (Step(_("Go to the machine"), url, primary=True),),
            url=url,
        ),
        initial={name: value for name, value in initial.items() if value is not None},
        context={"crumbs": machine_crumbs(actor, machine, page.name, title)},
        nav="machines",
    )
    return enter(request, actor, sheet)
