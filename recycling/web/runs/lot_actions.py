"""Pages about one lot: hold, release, event, count."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from recycling.queries.lots.holds import hold_row_of
from recycling.queries.lots.lots import lot_page
from recycling.queries.lots.origins import origin_page
from recycling.records.actors import Actor
from recycling.records.lots.lots import LotRecord
from recycling.records.lots.notes import HoldEntry, LotEventEntry
from recycling.records.recorded import HoldPlaced
from recycling.services.lots.holds import hold_place, hold_release
from recycling.services.lots.lot_notes import lot_event
from recycling.services.lots.lots_count import lots_count
from recycling.stages import COUNTING, first_of
from recycling.web.book_words import said
from recycling.web.forms.choices import Choices
from recycling.web.forms.fields import Typed, choice_field, tick
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.forms.reason import Reason
from recycling.web.forms.stages import cautions_of
from recycling.web.runs.log_parts import Counts
from recycling.web.runs.run_parts import At, counted_at
from recycling.web.runs.run_record import count_entry, count_saved

EVENTS = ("sealed", "opened", "moved", "printed", "note")


class Spread:
    """Whether a hold is for all that descends from the lot too."""

    key = "with_descendants"

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("spread").rows.append(row)
        hint = _("Use this when the material itself is in doubt.")
        label = _("Hold everything that was or will be made of it too")
        form.add(row, "with_descendants", tick(label, help_text=hint))

    def read(self, form: EntryForm) -> bool:
        form.point("/target", "", itself="with_descendants")
        return form.cleaned_data["with_descendants"]


class Event:
    """What happened to a lot."""

    key = "event"

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("event").rows.append(row)
        kinds = [(kind, capfirst(said(kind, "event"))) for kind in EVENTS]
        form.add(row, "kind", choice_field(_("What happened"), kinds, required=True))
        form.add(row, "place", Typed(_("Where it is now"), help_text=_("Needed when it moved.")))
        form.add(row, "note", Typed(_("Note"), size="long"))

    def read(self, form: EntryForm) -> dict[str, str]:
        for name in ("kind", "place", "note"):
            form.point(f"/{name}", "", itself=name)
        return {name: form.cleaned_data[name] for name in ("kind", "place", "note")}


def _crumbs(actor: Actor, code: str, title: str) -> list[tuple[str, str]]:
    lot_url = reverse("lot", args=[actor.slug, code])
    return [(_("Stock"), reverse("stock", args=[actor.slug])), (code, lot_url), (title, "")]


def lot_context(actor: Actor, lot: LotRecord, title: str, lede: str) -> dict[str, Any]:
    held = bool(lot.holds)
    shown = {"code": lot.code, "form": "spool" if lot.spool else lot.form, "held": held}
    url = reverse("lot", args=[actor.slug, lot.code])
    return {
        "crumbs": _crumbs(actor, lot.code, title),
        "lede": lede,
        "lot": {**shown, "url": url},
        "on_hand_mg": lot.mass_mg,
    }


def steps_back(actor: Actor, code: str) -> tuple[Step, ...]:
    url = reverse("lot", args=[actor.slug, code])
    return (Step(_("See lot %s") % code, url, primary=True),)


@recording("hold")
def hold_page(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Put a lot on hold, or every lot of a collection."""
    title = _("Put on hold")
    lede = _("Nothing can be drawn from it until it is released, in open runs neither.")
    if code[0] in "CPO":
        origin = origin_page(actor, code)
        url = reverse("collection", args=[actor.slug, origin.code])
        all_url = reverse("collections", args=[actor.slug])
        crumbs = [(_("Collections"), all_url), (origin.code, url), (title, "")]
        context: dict[str, Any] = {"crumbs": crumbs, "lede": lede}
        steps: tuple[Step, ...] = (Step(_("See %s") % origin.code, url, primary=True),)
    elif code[0] in "LS":
        context = lot_context(actor, lot_page(actor, code), title, lede)
        steps = steps_back(actor, code)
    else:
        raise Http404(code)
    held = Step(_("All holds"), reverse("holds", args=[actor.slug]))
    sheet = Sheet(
        title,
        _("Put on hold"),
        [Reason(_("Why it is held")), Spread()],
        lambda acting, values: hold_place(
            acting, HoldEntry(code, values["reason"], values["with_descendants"])
        ),
        lambda result, _values: Saved(code, _("On hold."), (*steps, held)),
        context={**context, "stop": True},
        nav="holds",
    )
    return enter(request, actor, sheet)


@recording("release")
def release_page(request: HttpRequest, actor: Actor, hold: int) -> HttpResponse:
    """Release a hold, with a reason."""
    row = hold_row_of(actor, hold)
    title = _("Release a hold")
    all_holds = reverse("holds", args=[actor.slug])
    sheet = Sheet(
        title,
        _("Release it"),
        [Reason(_("Why it may be used again"))],
        lambda acting, values: hold_release(acting, row.hold, values["reason"]),
        lambda result, _values: _released(actor, result),
        context={
            "crumbs": [(_("Holds"), all_holds), (row.lot, ""), (title, "")],
            "lede": _("%(lot)s is held since %(when)s by %(who)s: “%(why)s”")
            % {
                "lot": row.lot,
                "when": timezone.localtime(row.placed_at).strftime("%Y-%m-%d %H:%M"),
                "who": row.placed_by,
                "why": row.reason,
            },
        },
        nav="holds",
    )
    return enter(request, actor, sheet)


def _released(actor: Actor, result: HoldPlaced) -> Saved:
    holds_step = Step(_("All holds"), reverse("holds", args=[actor.slug]))
    text = _("Released; it can be drawn from, unless another hold is on it.")
    return Saved(result.target, text, (*steps_back(actor, result.target), holds_step))


@recording("record")
def event_page(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Note that a lot was sealed, opened, moved or printed from."""
    lot = lot_page(actor, code)
    title = _("Note what happened to it")

    def deed(acting: Actor, values: Any) -> str:
        at = values["at"] or timezone.now()
        return lot_event(acting, LotEventEntry(lot.code, happened_at=at, **values["event"]))

    sheet = Sheet(
        title,
        _("Note it"),
        [Event(), At()],
        deed,
        lambda result, values: Saved(
            result,
            _("Noted: %s.") % said(values["event"]["kind"], "event"),
            steps_back(actor, result),
            shape=lot.form,
        ),
        initial={"kind": request.GET.get("kind", "")},
        context=lot_context(actor, lot, title, _("Its mass stays what it is.")),
        nav="stock",
    )
    return enter(request, actor, sheet)


@recording("record")
def count_page(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Count one lot: the book is set to what was found."""
    lot = lot_page(actor, code)
    title = _("Count this lot")
    sheet = Sheet(
        title,
        _("Record the count"),
        [counted_at(), Counts(Choices(actor), lot.code)],
        lambda acting, values: lots_count(acting, count_entry(values)),
        lambda result, _values: count_saved(actor, result),
        context={
            **lot_context(
                actor, lot, title, _("Weigh what is there; the difference is unaccounted.")
            ),
            "cautions": cautions_of(first_of(COUNTING)),
        },
        nav="stock",
    )
    return enter(request, actor, sheet)
