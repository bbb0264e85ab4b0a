"""Figures to look at: put right by the correction page, or right as they stand by one press."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from recycling.queries.balance.doubts import doubts_waiting
from recycling.records.actors import Actor
from recycling.records.balance.doubts import DoubtRow
from recycling.services.balance.doubts import doubt_answer
from recycling.web.forms.page import Sheet, enter, recording
from recycling.web.forms.saying import Saved, Step
from recycling.web.languages import in_language
from recycling.web.pages.read import link
from shared.units import parse_mass


def waiting_here(actor: Actor) -> list[dict[str, Any]]:
    """List what waits for an answer, with the ways to give one."""
    return [_shown(actor, one) for one in doubts_waiting(actor)]


def _shown(actor: Actor, one: DoubtRow) -> dict[str, Any]:
    url = link("posting-correct", actor, one.posting) if one.posting else ""
    corrections = (
        []
        if not url
        else [(each.value, f"{url}?likely={parse_mass(each.value)}") for each in one.suggestions]
    )
    return {
        "row": one,
        "said": capfirst(in_language(one.said)),
        "correct": (corrections or [("", url)]) if url and actor.may("correct") else [],
        "right": link("doubt-right", actor, one.number) if actor.may("record") else "",
        "key": f"doubt-{one.number}",
    }


@recording("record")
def doubt_right(request: HttpRequest, actor: Actor, number: int) -> HttpResponse:
    """Remember that a figure is right."""
    title = _("It is right")
    back = reverse("closures", args=[actor.slug])
    sheet = Sheet(
        title,
        title,
        [],
        lambda acting, _values: doubt_answer(acting, number),
        lambda result, _values: Saved(
            "",
            _("Kept as right: %s") % in_language(result.said),
            (Step(_("Runs to check"), back, primary=True),),
        ),
        context={"lede": _("It is remembered who said so, and it is not asked again.")},
        nav="runs",
    )
    return enter(request, actor, sheet)
