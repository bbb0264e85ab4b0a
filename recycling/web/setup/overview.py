"""The page of the workshop itself: its machines, what entries refer to, how the work is done."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from recycling.queries.setup.register import machines
from recycling.records.actors import Actor
from recycling.web.forms.page import recording
from recycling.web.pages.menu import Group, group
from recycling.web.setup.register import KINDS


@recording("read")
def set_up(request: HttpRequest, actor: Actor) -> HttpResponse:
    """List the machines, and all that can be set up."""
    groups = [_machines(actor), _how(actor), _things(actor), _people(actor)]
    shown = {"nav": "set-up", "groups": groups}
    return render(request, "setup/set_up.html", shown)


def _machines(actor: Actor) -> Group:
    """List the machines, each of which leads to its book, its energy and its change of plastic."""
    steps = (
        {
            "url": reverse("machine", args=[actor.slug, one.id]),
            "label": one.name,
            "note": _(one.kind),
        }
        for one in machines(actor)
    )
    return Group(_("Machines"), tuple(steps))


def _how(actor: Actor) -> Group:
    practice = _("Limits, windows, recipes, price and carbon of electricity, each with its source.")
    checks = _("Checks with limits and sources; they decide which product is good.")
    return group(
        actor,
        _("How the work is done"),
        [
            ("practice", _("Practice"), practice),
            ("declared-checks", _("What a product must meet"), checks),
        ],
    )


def _things(actor: Actor) -> Group:
    steps = (
        {
            "url": reverse("set-up-add", args=[actor.slug, name]),
            "label": str(kind.title),
            "note": str(kind.lede),
        }
        for name, kind in KINDS.items()
    )
    return Group(_("What entries refer to"), tuple(steps))


def _people(actor: Actor) -> Group:
    keys = _("For scripts, scales and meters; each is shown once.")
    places = [("set-up-keys", _("Keys"), keys)]
    if actor.may("manage"):
        tablets = _("Devices at the bench on which one acts by a PIN, and when they lock.")
        places = [
            ("workshop-change", _("Name and time zone"), _("How it is called, and its time zone.")),
            ("set-up-tablets", _("Shared tablets"), tablets),
            *places,
        ]
    return group(actor, _("The workshop and its devices"), places)
