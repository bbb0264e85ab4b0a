"""Pages that log energy: parts, times, phases and meter readings."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from recycling.queries.energy.machines import machine_page
from recycling.records.actors import Actor
from recycling.records.energy.entries import (
    FELL_BECAUSE,
    PartEntry,
    PhaseEntry,
    ReadingEntry,
    TimeEntry,
)
from recycling.records.energy.machines import MachinePage
from recycling.services.energy.notes import part_add, part_time_add, phase_add, reading_add
from recycling.web.energy.words import fell_said, part_said, phase_said
from recycling.web.forms.entry_parts import EntryFields, machine_crumbs
from recycling.web.forms.fields import MomentField, NumberField, Typed, choice_field
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording


def note_sheet(
    request: HttpRequest,
    actor: Actor,
    page: MachinePage,
    texts: tuple[str, str, str],
    fields: EntryFields,
    deed: Callable[[Actor, Any], Any],
    done: str,
    review: Callable[[Any, Mapping[str, Any]], dict[str, Any]] | None = None,
) -> HttpResponse:
    """Show a form that notes something of a machine, and lead back to the machine.

    With `review`, what is to be asked is asked before it is noted.
    """
    title, button, lede = texts
    url = reverse("machine", args=[actor.slug, page.machine])
    steps = (
        Step(_("Go to the machine"), url, primary=True),
        Step(_("Once more"), request.path),
    )
    sheet = Sheet(
        title,
        button,
        [fields],
        lambda acting, values: deed(acting, values["entry"]),
        lambda _result, _values: Saved(page.name, done, steps, url=url),
        context={
            "lede": lede,
            "crumbs": machine_crumbs(actor, page.machine, page.name, title),
        },
        review=review,
        asks_only=review is not None,
        nav="machines",
    )
    return enter(request, actor, sheet)


@recording("manage")
def machine_part(request: HttpRequest, actor: Actor, machine: int) -> HttpResponse:
    page = machine_page(actor, machine)
    kinds = [(kind, part_said(kind)) for kind in ("heater", "motor", "fan", "pump", "other")]
    fields = {
        "name": Typed(_("Name"), required=True),
        "kind": choice_field(_("Kind"), kinds, required=True),
        "rated_w": NumberField(_("Power on its plate"), unit="W", required=True),
        "duty_percent": NumberField(
            _("Share of its time that it draws it"),
            unit="%",
            help_text=_("A heater with a thermostat switches on and off. Leave empty for 100 %."),
        ),
        "source": Typed(
            _("Where the figures are from"),
            size="long",
            help_text=_("Plate, manual, a measurement over an hour."),
        ),
    }
    lede = _("With logged times, parts give an estimate where nothing is measured.")
    return note_sheet(
        request,
        actor,
        page,
        (_("Add a part"), _("Add the part"), lede),
        EntryFields(PartEntry, fields, machine=machine),
        part_add,
        _("The part is added; it can be switched by a tap on the machine's page."),
    )


def _from_to() -> dict[str, Any]:
    return {
        "started_at": MomentField(_("From"), required=True),
        "ended_at": MomentField(_("Until"), required=True, initial=timezone.now()),
    }


@recording("record")
def machine_time(request: HttpRequest, actor: Actor, machine: int) -> HttpResponse:
    page = machine_page(actor, machine)
    parts = [(str(part.part), part.name) for part in page.parts]
    field = choice_field(_("Part"), parts, required=True)
    return note_sheet(
        request,
        actor,
        page,
        (_("Type a time"), _("Log the time"), _("When a heater, motor, fan or pump was on.")),
        EntryFields(
            lambda part, **more: TimeEntry(int(part), **more), {"part": field, **_from_to()}
        ),
        part_time_add,
        _("The time is logged."),
    )


@recording("record")
def machine_phase(request: HttpRequest, actor: Actor, machine: int) -> HttpResponse:
    page = machine_page(actor, machine)
    kinds = [(kind, phase_said(kind)) for kind in ("warm-up", "purge", "standby")]
    fields = {"kind": choice_field(_("What it was"), kinds, required=True), **_from_to()}
    lede = _("What a machine takes outside its runs is shared over the session's runs by mass.")
    return note_sheet(
        request,
        actor,
        page,
        (_("Type a warm-up, purge or standby"), _("Log it"), lede),
        EntryFields(PhaseEntry, fields, machine=machine),
        phase_add,
        _("It is logged."),
    )


@recording("record")
def machine_reading(request: HttpRequest, actor: Actor, machine: int) -> HttpResponse:
    page = machine_page(actor, machine)
    hint = ""
    if page.readings:
        last = page.readings[0]
        hint = _("It showed %(kwh)g kWh before.") % {"kwh": last.reading_kwh}
    fields = {
        "reading_kwh": NumberField(_("The meter shows"), unit="kWh", required=True, help_text=hint),
        "read_at": MomentField(_("When"), help_text=_("Leave empty for now.")),
        "fell_because": choice_field(
            _("If it shows less than before, why?"),
            [(why, fell_said(why)) for why in FELL_BECAUSE],
            help_text=_(
                "What a meter counted between the reading before and its end, or zero, is lost."
            ),
            few=True,
        ),
    }
    lede = _("A reading before and one after a run tell its energy best.")
    return note_sheet(
        request,
        actor,
        page,
        (_("Note a meter reading"), _("Note the reading"), lede),
        EntryFields(ReadingEntry, fields, machine=machine),
        reading_add,
        _("The reading is noted."),
        lambda result, values: {
            "sentence": "",
            "button": _("Note the reading"),
            "doubts": result.doubts,
            "machine": page.name,
            "entry": values["entry"],
            "review_table": "energy/reading_review.html",
        },
    )
