"""What products must meet: the checks that a workshop declares, and second choice."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from recycling.queries.lots.lots import lot_page
from recycling.queries.quality.declared import checks_in_force
from recycling.queries.setup.register import polymers
from recycling.records.actors import Actor
from recycling.records.quality.declared import DIAMETER, QUANTITIES, RULES, DeclareEntry
from recycling.records.quality.verdicts import DEFECTS
from recycling.services.quality.declare import check_declare, second_choice_release
from recycling.web.book_words import said
from recycling.web.forms.entry_parts import EntryFields
from recycling.web.forms.fields import (
    LinesField,
    MomentField,
    NumberField,
    Typed,
    WholeField,
    choice_field,
)
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.pages.read import reading
from recycling.web.quality.words import form_choices
from recycling.web.runs.lot_actions import lot_context, steps_back

YES_NO = {"yes": True, "no": False}


@reading
def declared(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    """List the checks that hold now, each with its limits, rule and source."""
    shown = {
        "nav": "set-up",
        "checks": checks_in_force(actor),
        "may": actor.may("manage"),
        "crumbs": [(_("Workshop"), reverse("set-up", args=[actor.slug])), (_title(), "")],
    }
    return render(request, "quality/declared.html", shown)


def _title() -> str:
    return _("What a product must meet")


def _entry(**given: Any) -> DeclareEntry:
    given["needed"] = YES_NO[given.pop("needed", "yes")]
    given["off"] = not YES_NO[given.pop("asked", "yes")]
    return DeclareEntry(**given)


def _fields(actor: Actor, quantity: str) -> dict[str, Any]:
    """Lay what one quantity can be asked by; limits and readings where there are some."""
    known = QUANTITIES[quantity]
    plastics = [(one.code, one.code) for one in polymers(actor)]
    yes_no = [("yes", _("yes")), ("no", _("no"))]
    fields: dict[str, Any] = {
        "form": choice_field(_("Kind of product"), form_choices(), required=True),
        "polymer": choice_field(_("Plastic"), plastics, empty=_("every plastic"), few=False),
    }
    if known.unit:
        rules = [(rule, _(RULES[rule])) for rule in known.rules]
        fields |= {
            "rule": choice_field(_("Rule"), rules, required=True),
            "low": NumberField(_("Lower limit"), unit="mm", help_text=_(known.about)),
            "high": NumberField(_("Upper limit"), unit="mm"),
            "least": WholeField(_("Least number of readings"), required=True),
        }
    if quantity == DIAMETER:
        fields |= {
            "share_percent": NumberField(_("Share that must be inside"), unit="%"),
            "sure_percent": NumberField(_("How sure that must be"), unit="%"),
        }
    defects = [(defect, capfirst(said(defect, "defect"))) for defect in DEFECTS]
    return fields | {
        "needed": choice_field(_("Needed to be within limits"), yes_no, required=True),
        "defect": choice_field(
            _("Defect that it stands for in the search for a cause"),
            defects,
            empty=_("none"),
            few=False,
        ),
        "asked": choice_field(_("In use"), yes_no, required=True),
        "since": MomentField(
            _("Holds for what is made since"), help_text=_("Leave empty for now.")
        ),
        "source": Typed(
            _("Where the limits come from"),
            size="long",
            required=True,
            help_text=_("A standard, a data sheet, or your own trials with their date."),
        ),
    }


@recording("manage")
def declare(request: HttpRequest, actor: Actor, quantity: str) -> HttpResponse:
    """Declare a check, change it or switch it off; each is a new edition."""
    if quantity not in QUANTITIES:
        return declared(request, actor)  # type: ignore[return-value]
    now = next(one for one in checks_in_force(actor) if one.quantity == quantity)
    names = ("form", "polymer", "rule", "low", "high", "least", "share_percent", "sure_percent")
    initial = {name: getattr(now, name) for name in names if getattr(now, name) is not None}
    initial |= {"needed": "yes" if now.needed else "no", "asked": "no" if now.off else "yes"}
    initial["defect"] = now.defect
    url = reverse("declared-checks", args=[actor.slug])
    title = _("Change the check: %s") % _(now.label)
    crumbs = [(_("Workshop"), reverse("set-up", args=[actor.slug])), (_title(), url), (title, "")]
    sheet = Sheet(
        title,
        _("Keep it"),
        [EntryFields(_entry, _fields(actor, quantity), quantity=quantity)],
        lambda acting, values: check_declare(acting, values["entry"]),
        lambda _result, _values: Saved(
            title,
            _("It holds for what is made since then. Earlier products keep their edition."),
            (Step(_title(), url, primary=True),),
            url=url,
        ),
        initial=initial,
        context={"crumbs": crumbs},
        nav="set-up",
    )
    return enter(request, actor, sheet)


@recording("record")
def second_choice(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Release a product that is outside its limits as second choice."""
    lot = lot_page(actor, code)
    title = _("Release as second choice")
    lede = _("It stays outside its limits. Its label says “second choice”.")
    fields = EntryFields(dict, {"reason": LinesField(_("Reason"), required=True)})
    sheet = Sheet(
        title,
        _("Release"),
        [fields],
        lambda acting, values: second_choice_release(acting, lot.code, values["entry"]["reason"]),
        lambda result, _values: Saved(
            result, _("It is second choice now."), steps_back(actor, result), shape="spool"
        ),
        context=lot_context(actor, lot, title, lede),
        nav="spools",
    )
    return enter(request, actor, sheet)
