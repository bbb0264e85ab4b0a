"""Asking for a report: usual periods by one press, everything else on one form."""

from __future__ import annotations

import uuid
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from recycling.calc.reports.diversion import Counter
from recycling.queries.setup.register import programmes, sources
from recycling.records.actors import Actor
from recycling.records.reports.question import PERIOD, THANKS
from recycling.records.reports.rows import ReportEntry
from recycling.services.reports.ask import report_ask
from recycling.web.forms.fields import DayField, LinesField, Typed, WholeField, choice_field
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.page import recording
from recycling.web.pages.periods import presets
from recycling.web.pages.press import done_once
from recycling.web.reports.words import counter_said
from shared.errors import Forbidden, Refused

USUAL = ("month", "last-month", "quarter", "year")
PASSED = ("kind", "programme", "source", "counts_as", "title", "note", "supersedes")


class Question:
    """The fields of a question, and the entry that is made of them."""

    key = "question"

    def __init__(self, actor: Actor) -> None:
        self.programmes = [(one.name, one.name) for one in programmes(actor)]
        self.sources = [(one.name, one.name) for one in sources(actor)]

    def lay(self, form: EntryForm) -> None:
        """Lay the fields: what for, when, about whom, and what it says besides."""
        self._lay_period(form)
        self._lay_about(form)
        row = Row("")
        form.section("words", _("What else it says")).rows.append(row)
        title = _("Leave it empty for a usual one.")
        form.add(row, "title", Typed(_("Title"), size="long", help_text=title))
        people = _("As counted by people, for reports that ask for it.")
        form.add(row, "people_reached", WholeField(_("People reached"), help_text=people))
        form.add(row, "note", LinesField(_("Note")))
        signers = _("One line for each who signs on paper.")
        form.add(row, "signed_by", LinesField(_("To be signed by"), help_text=signers))
        form.add(row, "supersedes", _code_of_report())
        for name in ("title", "people_reached", "note", "signed_by", "supersedes"):
            form.point(f"/{name}", "", itself=name)

    def _lay_period(self, form: EntryForm) -> None:
        kinds = [
            (PERIOD, _("A period report, for a funder or an auditor")),
            (THANKS, _("Thanks to a source: what it gave and what that became")),
        ]
        row = Row("")
        form.section("period").rows.append(row)
        form.add(row, "kind", choice_field(_("What it is"), kinds, required=True))
        form.add(row, "from_date", DayField(_("First day"), required=True))
        form.add(row, "to_date", DayField(_("Last day"), required=True))
        for name in ("kind", "from_date", "to_date"):
            form.point(f"/{name}", "", itself=name)

    def _lay_about(self, form: EntryForm) -> None:
        row = Row("")
        form.section("about", _("About whom")).rows.append(row)
        whole = ("", _("the whole workshop"))
        if self.programmes:
            form.add(
                row,
                "programme",
                choice_field(_("Programme"), [whole, *self.programmes], few=False),
            )
        if self.sources:
            form.add(
                row, "source", choice_field(_("Source"), [("", _("all")), *self.sources], few=False)
            )
        counters = [(one.value, counter_said(one.value)) for one in Counter]
        hint = _("All five stand in the report; this one is called diverted.")
        form.add(
            row,
            "counts_as",
            choice_field(
                _("What counts as diverted"), counters, help_text=hint, required=True, few=False
            ),
        )
        for name in ("programme", "source", "counts_as"):
            form.point(f"/{name}", "", itself=name)

    def read(self, form: EntryForm) -> ReportEntry:
        """Make the entry."""
        given = form.cleaned_data
        texts = {name: given.get(name) or "" for name in PASSED}
        return ReportEntry(
            given["from_date"],
            given["to_date"],
            **texts,
            people_reached=given.get("people_reached"),
            signed_by=tuple(given.get("signed_by", "").splitlines()),
        )


def _code_of_report() -> Typed:
    hint = _("Code of an earlier report that this one corrects; both stay readable.")
    return Typed(_("Takes the place of"), size="mass", help_text=hint)


def usual_periods(actor: Actor, today: date) -> list[dict[str, str]]:
    """Offer periods that are asked for often, and each programme's own term."""
    new = reverse("report-new", args=[actor.slug])
    offered = [
        {
            "label": one.label,
            "note": _span(one.first, one.last),
            "url": f"{new}?from={one.first.isoformat()}&to={one.last.isoformat()}",
        }
        for one in presets(today)
        if one.key in USUAL
    ]
    for place, one in enumerate(programmes(actor)):
        if one.starts_date and one.starts_date <= today and place < 4:
            last = min(one.ends_date or today, today)
            query = f"from={one.starts_date.isoformat()}&to={last.isoformat()}&programme={one.id}"
            note = _span(one.starts_date, last)
            offered.append({"label": one.name, "note": note, "url": f"{new}?{query}"})
    return [*offered, {"label": _("Another period"), "note": "", "url": new}]


def _span(first: date, last: date) -> str:
    return f"{date_format(first, 'SHORT_DATE_FORMAT')} – {date_format(last, 'SHORT_DATE_FORMAT')}"


@recording("report")
def report_new(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Ask for a report; lead to the page that says how far it is."""
    part = Question(actor)
    if request.method != "POST":
        return _show(request, actor, EntryForm(None, [part], initial=_initial(request, actor)))
    form = EntryForm(request.POST, [part])
    if not form.is_valid():
        return _show(request, actor, form, 422)
    entry = form.values["question"]
    try:
        code = done_once(request, actor, lambda acting: report_ask(acting, entry))
    except Forbidden:
        raise
    except Refused as refused:
        form.add_problems(refused.problems)
        return _show(request, actor, form, refused.status)
    return redirect(reverse("report", args=[actor.slug, code]))


def _initial(request: HttpRequest, actor: Actor) -> dict[str, Any]:
    usual = next(one for one in presets(timezone.localdate()) if one.key == "quarter")
    asked = {name: request.GET.get(name, "") for name in PASSED}
    asked["programme"] = _programme(actor, asked["programme"])
    return {
        **asked,
        "kind": asked["kind"] or PERIOD,
        "counts_as": asked["counts_as"] or Counter.PRODUCT.value,
        "from_date": request.GET.get("from") or usual.first.isoformat(),
        "to_date": request.GET.get("to") or usual.last.isoformat(),
        "people_reached": request.GET.get("people_reached", ""),
        "signed_by": request.GET.get("signed_by", ""),
    }


def _programme(actor: Actor, said: str) -> str:
    """Name a programme that an address names by its id or its name."""
    return next((one.name for one in programmes(actor) if said in (str(one.id), one.name)), "")


def _show(request: HttpRequest, actor: Actor, form: EntryForm, status: int = 200) -> HttpResponse:
    title = _("Make a report")
    shown = {
        "title": title,
        "button": _("Make it"),
        "form": form,
        "nav": "reports",
        "key": request.POST.get("idempotency_key", "") or f"page-{uuid.uuid4().hex}",
        "crumbs": [(_("Reports"), reverse("reports", args=[actor.slug])), (title, "")],
        "lede": _(
            "It is read from the book as it is now, gets a number, and never changes. Later"
            " corrections stand in the next one."
        ),
    }
    return render(request, "forms/sheet.html", shown, status=status)
