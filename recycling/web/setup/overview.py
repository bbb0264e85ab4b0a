"""The page from which everything is set up."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from recycling.records.actors import Actor
from recycling.web.forms.page import Step, recording
from recycling.web.setup.register import KINDS


@recording("read")
def set_up(request: HttpRequest, actor: Actor) -> HttpResponse:
    """List what can be set up."""
    steps = [
        Step(str(kind.title), reverse("set-up-add", args=[actor.slug, name]), str(kind.lede))
        for name, kind in KINDS.items()
    ]
    practice = _("Limits, windows, recipes, price and carbon of electricity, each with its source.")
    tablets = _("Devices at the bench on which one acts by a PIN, and when they lock.")
    exports = _("Events and lineage in the forms of open standards, for another system.")
    more = (
        ("manage", _("The workshop"), "workshop-change", _("How it is called, and its time zone.")),
        ("read", _("Practice"), "practice", practice),
        (
            "read",
            _("What a product must meet"),
            "declared-checks",
            _("Checks with limits and sources; they decide which product is good."),
        ),
        ("manage", _("Shared tablets"), "set-up-tablets", tablets),
        (
            "read",
            _("Keys"),
            "set-up-keys",
            _("For scripts, scales and meters; each is shown once."),
        ),
        ("read", _("Exports"), "exports", exports),
    )
    steps += [
        Step(title, reverse(name, args=[actor.slug]), about)
        for right, title, name, about in more
        if actor.may(right)
    ]
    return render(request, "setup/set_up.html", {"nav": "set-up", "steps": steps})
