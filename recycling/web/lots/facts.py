"""Pages that put right what was said of a collection or a lot; masses have a page of their own."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _

from recycling.queries.lots.lots import lot_page
from recycling.queries.lots.origins import origin_page
from recycling.records.actors import Actor
from recycling.records.lots.changes import LotChange, OriginChange
from recycling.records.lots.lots import LotRecord
from recycling.records.lots.origins import OriginRecord
from recycling.services.lots.facts import MAY_BE_EMPTY, lot_change, origin_change
from recycling.stages import stage
from recycling.stages.declaration import FORMS, HEEL
from recycling.web.forms.choices import Choices
from recycling.web.forms.fields import (
    LinesField,
    MassField,
    NumberField,
    Typed,
    WholeField,
    choice_field,
)
from recycling.web.forms.known_facts import KnownFacts, with_known
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.forms.reason import Reason
from recycling.web.templatetags.look import word_for


def facts_sheet(part: Any, crumbs: list[tuple[str, str]], nav: str, **more: Any) -> Sheet:
    """Lay out a page that puts facts right, with the reason."""
    return Sheet(
        _("Put the facts right"),
        _("Keep the change"),
        [part, Reason(_("Why it was wrong"))],
        context={
            "crumbs": crumbs,
            "lede": _(
                "Change what is wrong and leave the rest. What it was before stays readable, with"
                " your name and reason. A mass is corrected beside its figure."
            ),
        },
        nav=nav,
        **more,
    )


def facts_saved(actor: Actor, code: str, page: str) -> Saved:
    """Say that facts were put right, and lead back to what they are of."""
    url = reverse(page, args=[actor.slug, code])
    steps = (Step(_("See %s") % code, url, primary=True),)
    text = _("Put right. What it was before stands under what was changed.")
    return Saved(code, text, steps, undo=reverse("facts-undo", args=[actor.slug, code]))


@recording("correct")
def collection_facts(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Put right who gave, what it counts towards, who received it, and what was noted."""
    origin = origin_page(actor, code)
    fields = _origin_fields(Choices(actor), origin)
    known = {name: getattr(origin, name) for name in fields}
    url = reverse("collection", args=[actor.slug, code])
    crumbs = [
        (_("Collections"), reverse("collections", args=[actor.slug])),
        (code, url),
        (_("Put the facts right"), ""),
    ]
    sheet = facts_sheet(
        KnownFacts(fields, known, origin, "change"),
        crumbs,
        "collections",
        deed=lambda acting, values: origin_change(
            acting, code, OriginChange(reason=values["reason"], **values["change"])
        ),
        saved=lambda result, _values: facts_saved(actor, result.code, "collection"),
    )
    return enter(request, actor, sheet)


def _origin_fields(choices: Choices, origin: OriginRecord) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    if origin.kind == "collection":
        sources = with_known(choices.sources, origin.source)
        fields["source"] = choice_field(_("Source"), sources, few=False)
    named = with_known(choices.programmes, origin.programme)
    if named and origin.kind == "collection":
        fields["programme"] = choice_field(_("Programme"), named, empty=_("none"), few=False)
    if origin.kind == "purchase":
        fields["supplier"] = Typed(_("Supplier"))
        fields["document"] = Typed(_("Document"), help_text=_("Invoice, delivery note."))
    members = with_known(choices.members, origin.received_by)
    fields["received_by"] = choice_field(_("Received by"), members, few=False)
    if origin.kind == "collection":
        fields["consent"] = Typed(_("Consent"), size="long")
    fields["note"] = LinesField(_("Note"))
    return fields


@recording("correct")
def lot_facts(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Put right what a lot is, its colour, its pieces, its note, and what makes it a spool."""
    lot = lot_page(actor, code)
    fields = _lot_fields(lot)
    known = {name: getattr(lot, name, None) for name in fields}
    if lot.spool:
        known |= {name: getattr(lot.spool, name) for name in fields if hasattr(lot.spool, name)}
    nav = "spools" if lot.spool else "stock"
    listed = _("Spools") if lot.spool else _("Stock")
    crumbs = [
        (listed, reverse(nav, args=[actor.slug])),
        (code, reverse("lot", args=[actor.slug, code])),
        (_("Put the facts right"), ""),
    ]
    sheet = facts_sheet(
        KnownFacts(fields, known, lot, "change"),
        crumbs,
        nav,
        deed=lambda acting, values: lot_change(
            acting, code, _lot_change(values["reason"], values["change"])
        ),
        saved=lambda result, _values: facts_saved(actor, result.code, "lot"),
    )
    return enter(request, actor, sheet)


def _lot_change(reason: str, changed: dict[str, Any]) -> LotChange:
    """Make a change of what was typed; an emptied figure is one that nobody knows."""
    empty = tuple(name for name in MAY_BE_EMPTY if name in changed and changed[name] is None)
    given = {name: value for name, value in changed.items() if value is not None}
    return LotChange(reason=reason, empty=empty, **given)


def _lot_fields(lot: LotRecord) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    forms = _forms_of(lot)
    if len(forms) > 1:
        choices = [(form, str(word_for(form, "form"))) for form in forms]
        fields["form"] = choice_field(_("What it is"), choices, few=False, required=True)
    fields["colour"] = Typed(_("Colour"))
    fields["count"] = WholeField(_("Pieces"))
    if lot.spool:
        fields["diameter_mm"] = NumberField(_("Diameter"), unit="mm", required=True)
        fields["tolerance_mm"] = NumberField(_("Tolerance"), unit="mm")
        fields["length_m"] = NumberField(_("Length"), unit="m")
        fields["tare_mg"] = MassField(_("Empty spool"))
    fields["note"] = LinesField(_("Note"))
    return fields


def _forms_of(lot: LotRecord) -> list[str]:
    """Name the forms that a lot may have been: what came in, or what its stage gives."""
    if lot.form == HEEL or lot.spool:
        return []
    if lot.origin:
        return [form for form in FORMS if form != HEEL]
    declared = stage(lot.stage)
    given = [one.form for one in declared.gives if one.form != HEEL] if declared else []
    return given if lot.form in given else []
