"""A machine's page, and what a tap on it does."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from recycling.queries.energy.machines import machine_page
from recycling.records.actors import Actor
from recycling.records.energy.machines import MachinePage
from recycling.services.energy.notes import logged_take_back, part_tap, phase_tap
from recycling.stages import STAGES
from recycling.web.energy.words import HOT, phase_said
from recycling.web.forms.entry_parts import machine_crumbs
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.forms.reason import Reason
from recycling.web.forms.stages import cautions_of
from recycling.web.languages import refusal_words
from recycling.web.pages.read import reading
from shared.errors import Forbidden, Refused, Unknown

PHASES = ("warm-up", "purge", "standby")


@reading
def machine(request: HttpRequest, actor: Actor, machine: int) -> HttpResponseBase:
    page = machine_page(actor, machine)
    stage = next((one for one in STAGES if one.machine == page.kind), None)
    shown = {
        "nav": "machines",
        "machine": page,
        "crumbs": [(_("Workshop"), reverse("set-up", args=[actor.slug])), (page.name, "")],
        "phases": [(kind, phase_said(kind)) for kind in PHASES],
        "cautions": cautions_of(stage) if page.kind in HOT else (),
        "actions": _actions(actor, page),
        "may_record": actor.may("record"),
        "changes": page.kind == "extruder",
    }
    return render(request, "energy/machine.html", shown)


def _actions(actor: Actor, page: MachinePage) -> list[dict[str, str]]:
    wanted = [
        ("record", "machine-reading", _("Note a meter reading")),
        ("record", "meter-change", _("Say how sure its meter is")),
        ("record", "machine-time", _("Type a time")),
        ("record", "machine-phase", _("Type a warm-up, purge or standby")),
        ("record", "energy-file-bring", _("Bring a file")),
        ("record", "barrel-change", _("Hold-up of the barrel")),
        ("manage", "machine-part", _("Add a part")),
    ]
    if page.kind != "extruder":
        wanted = [one for one in wanted if one[1] != "barrel-change"]
    if not page.parts:
        wanted = [one for one in wanted if one[1] != "machine-time"]
    return [
        {"url": reverse(name, args=[actor.slug, page.machine]), "label": label}
        for right, name, label in wanted
        if actor.may(right)
    ]


@require_POST
def machine_tap(request: HttpRequest, slug: str, machine: int) -> HttpResponse:
    """Begin or end a part's time or a phase now; a second tap of the same changes nothing."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    part, phase = request.POST.get("part", ""), request.POST.get("phase")
    try:
        if phase is not None:
            phase_tap(actor, machine, phase)
        elif part.isascii() and part.isdigit() and len(part) < 18:
            part_tap(actor, int(part), request.POST.get("on") == "1")
        else:
            raise Http404("nothing was tapped")
    except Unknown as missing:
        raise Http404(str(missing)) from missing
    except Forbidden as forbidden:
        raise PermissionDenied(str(forbidden)) from forbidden
    except Refused as refused:
        from django.contrib import messages

        messages.error(request, refusal_words(refused))
    back = request.POST.get("back", "")
    if url_has_allowed_host_and_scheme(back, {request.get_host()}) and back.startswith("/w/"):
        return redirect(back)
    return redirect(reverse("machine", args=[actor.slug, machine]))


@recording("record")
def take_back(
    request: HttpRequest, actor: Actor, machine: int, kind: str, logged: int
) -> HttpResponse:
    """Take a logged time, phase or reading back, with the reason."""
    page = machine_page(actor, machine)
    title = _("Take it back")
    url = reverse("machine", args=[actor.slug, machine])

    def saved(_result: Any, _values: Any) -> Saved:
        return Saved(
            page.name,
            _("It counts no more; it stays in the history."),
            (Step(_("Go to the machine"), url, primary=True),),
            url=url,
        )

    sheet = Sheet(
        title,
        title,
        [Reason(_("Why"))],
        lambda acting, values: logged_take_back(acting, kind, logged, values["reason"]),
        saved,
        context={
            "lede": _("What was logged by mistake counts no more for any run."),
            "crumbs": machine_crumbs(actor, machine, page.name, title),
        },
        nav="machines",
    )
    return enter(request, actor, sheet)
