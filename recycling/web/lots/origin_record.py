"""Pages that weigh in: a collection, a purchase, an opening count."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.records.actors import Actor
from recycling.records.lots.origin_entries import OriginEntry
from recycling.records.recorded import OriginRecorded
from recycling.services.lots.origin_record import origin_record
from recycling.stages import RECEIVING, first_of
from recycling.web.forms.choices import Choices
from recycling.web.forms.forms import Part
from recycling.web.forms.judged import Judged, judged
from recycling.web.forms.page import Sheet, enter, recording
from recycling.web.forms.sentences import masses_by_form, origin_saved
from recycling.web.forms.stages import cautions_of, crumbs_of
from recycling.web.lots.origin_parts import HEAD_FIELDS, Bags, OriginHead, OriginNotes
from recycling.web.templatetags.look import mass_text


def _entry(kind: str, values: Any) -> OriginEntry:
    head = values["head"]
    said = {name: head.get(name) or "" for name in HEAD_FIELDS}
    happened_at = head.get("happened_at") or timezone.now()
    return OriginEntry(kind, happened_at, values["bags"], **said)


def _page(
    request: HttpRequest, actor: Actor, kind: str, title: str, lede: str, button: str
) -> HttpResponse:
    choices = Choices(actor)

    def deed(acting: Actor, values: Any) -> Judged[OriginRecorded]:
        return judged(acting, origin_record(acting, _entry(kind, values)))

    context: dict[str, Any] = {
        "lede": lede,
        "cautions": cautions_of(first_of(RECEIVING)),
        "crumbs": crumbs_of(actor, title),
    }
    if kind == "collection":
        context["sentence"] = _sentence()
        add = reverse("set-up-add", args=[actor.slug, "sources"])
        context["aside"] = {"url": add, "label": _("Somebody new gave: add the source first")}
    parts: list[Part] = [OriginHead(choices, kind), Bags(choices, kind), OriginNotes(kind)]
    sheet = Sheet(
        title,
        button,
        parts,
        deed,
        lambda result, _values: origin_saved(actor, result.recorded),
        review=lambda result, values: _review(result, values, button),
        initial={"source": request.GET.get("source", "")},
        context=context,
        remember=("scale", "programme", "bags-0-tare", "bags-0-container"),
        stage=first_of(RECEIVING).key,
    )
    return enter(request, actor, sheet)


def _sentence() -> dict[str, str]:
    return {
        "empty": _("Nothing is weighed yet."),
        "one": _("One bag, {mass} net, from {source}."),
        "many": _("{count} bags, {mass} net in all, from {source}."),
    }


def _review(judging: Judged[OriginRecorded], values: Any, button: str) -> dict[str, Any]:
    """Say before recording what will come in, bag by bag."""
    lots = judging.recorded.lots
    said = {
        "mass": mass_text(sum(lot.mass_mg for lot in lots)),
        "what": masses_by_form(lots),
        "count": len(lots),
        "source": values["head"].get("source") or values["head"].get("supplier") or "",
    }
    named = ngettext("One lot: %(what)s", "%(count)d lots: %(what)s", len(lots)) % said
    if said["source"]:
        named = _("%(lots)s from %(source)s") % {"lots": named, "source": said["source"]}
    return {
        "sentence": f"{named}.",
        "bags": [
            (lot.form, lot.polymer, lot.mass_mg, round(judging.sure_mg.get(lot.code, 0)))
            for lot in lots
        ],
        "doubts": judging.recorded.doubts,
        "button": button,
    }


@recording("record")
def collection_new(request: HttpRequest, actor: Actor) -> HttpResponse:
    lede = _("Weigh each bag; each becomes a lot with a code of its own.")
    title, button = _("Record a collection"), _("Record the collection")
    return _page(request, actor, "collection", title, lede, button)


@recording("record")
def purchase_new(request: HttpRequest, actor: Actor) -> HttpResponse:
    lede = _("Pellets, purge compound or whatever else was bought and enters the book.")
    title, button = _("Record a purchase"), _("Record the purchase")
    return _page(request, actor, "purchase", title, lede, button)


@recording("record")
def opening_new(request: HttpRequest, actor: Actor) -> HttpResponse:
    lede = _(
        "What is there when the book begins: stock on the shelves, and what is in each machine,"
        " its first heel."
    )
    title, button = _("Count what is there at the start"), _("Record the opening count")
    return _page(request, actor, "opening", title, lede, button)
