"""Say of a spool how it printed."""

from __future__ import annotations

from typing import Any

from django import forms as django_forms
from django.http import HttpRequest, HttpResponse
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from recycling.queries.lots.lots import lot_page
from recycling.records.actors import Actor
from recycling.records.quality.entries import VerdictEntry
from recycling.records.quality.verdicts import DEFECTS
from recycling.services.quality.verdict_give import verdict_give
from recycling.web.book_words import said
from recycling.web.forms.fields import LinesField, choice_field
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.page import Saved, Sheet, enter, recording
from recycling.web.runs.lot_actions import lot_context, steps_back


class Verdict:
    """How a spool printed."""

    key = "verdict"

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("verdict").rows.append(row)
        good = [("good", _("Good: it printed well")), ("bad", _("Bad: something was wrong"))]
        needed = {"required": _("Say whether it printed well or something was wrong.")}
        form.add(
            row,
            "good",
            choice_field(_("How it printed"), good, required=True, error_messages=needed),
        )
        defects = django_forms.MultipleChoiceField(
            label=_("What was wrong"),
            choices=[(defect, capfirst(said(defect, "defect"))) for defect in DEFECTS],
            widget=django_forms.CheckboxSelectMultiple,
            required=False,
        )
        form.add(row, "defects", defects)
        form.add(row, "note", LinesField(_("In your words")))

    def read(self, form: EntryForm) -> dict[str, Any]:
        form.point("/good", "", itself="good")
        form.point("/defects", "", itself="defects")
        form.point("/note", "", itself="note")
        given = form.cleaned_data
        return {
            "good": given["good"] == "good",
            "defects": tuple(given["defects"]),
            "note": given["note"],
        }


@recording("verdict")
def verdict_page(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Say how a spool printed."""
    lot = lot_page(actor, code)
    title = _("Say how it printed")
    lede = _("Good or bad, both help: they point to what a bad spool has in common with others.")
    sheet = Sheet(
        title,
        _("Send the verdict"),
        [Verdict()],
        lambda acting, values: verdict_give(acting, VerdictEntry(lot.code, **values["verdict"])),
        lambda result, _values: Saved(
            result, _("Thank you; the verdict is kept."), steps_back(actor, result), shape="spool"
        ),
        context=lot_context(actor, lot, title, lede),
        nav="spools",
    )
    return enter(request, actor, sheet)
