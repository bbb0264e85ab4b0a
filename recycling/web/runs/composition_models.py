"""How the origins of a run's outputs are computed: both models side by side, and the choice."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.calc.lots.feed_order import MODELS
from recycling.queries.runs.composition_models import models_compared
from recycling.records.actors import Actor
from recycling.records.balance.known_masses import ModelsCompared
from recycling.records.recorded import ModelChosen
from recycling.services.runs.run_model import run_model_choose
from recycling.tables.csv_text import kilograms
from recycling.web.book_words import said
from recycling.web.forms.fields import choice_field
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.forms.reason import Reason
from recycling.web.pages.read import csv_answer, csv_url, link, reading, show, wants_csv

COLUMNS = ("lot", "form", "origin", "source", "well mixed, kg", "feed order, kg")
MOST_PARTS = 12


@reading
def model_page(request: HttpRequest, actor: Actor, code: str) -> HttpResponseBase:
    found = models_compared(actor, code)
    if wants_csv(request):
        return csv_answer(f"models-{code}", COLUMNS, _cells(found))
    return show(
        request,
        "runs/model.html",
        "runs",
        found=found,
        feeds=list(zip(found.fed, found.fed_mg, strict=True)),
        lots=[(lot, lot.parts[:MOST_PARTS], len(lot.parts) - MOST_PARTS) for lot in found.lots],
        choose_url=link("run-model-choose", actor, code) if actor.may("correct") else "",
        csv=csv_url(request),
    )


def _cells(found: ModelsCompared) -> list[tuple[object, ...]]:
    return [
        (
            lot.lot,
            lot.form,
            part.origin or "traces",
            part.source,
            kilograms(part.well_mixed_mg),
            kilograms(part.feed_order_mg),
        )
        for lot in found.lots
        for part in lot.parts
    ]


class Models:
    """The choice between the models."""

    key = "model"

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("model").rows.append(row)
        choices = [(one, said(one, "model")) for one in MODELS]
        form.add(row, "model", choice_field(_("Origins computed as"), choices, few=True))
        form.point("/composition_model", "", itself="model")

    def read(self, form: EntryForm) -> str:
        return form.cleaned_data.get("model") or ""


@recording("correct")
def model_choose(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Choose how the origins of what a run gave are computed, with a reason."""
    url = reverse("run-model", args=[actor.slug, code])
    title = _("How origins are computed")
    found = models_compared(actor, code)

    def saved(result: ModelChosen, _values: Any) -> Saved:
        text = said(result.model, "model")
        if result.waiting:
            waiting = ngettext(
                "%d run that descends from it is being recalculated.",
                "%d runs that descend from it are being recalculated.",
                result.waiting,
            )
            text = f"{text}. {waiting % result.waiting}"
        steps = (
            Step(_("See both side by side"), url, primary=True),
            Step(_("See run %s") % code, reverse("run", args=[actor.slug, code])),
        )
        return Saved(code, text, steps, shape="run", url=url)

    sheet = Sheet(
        title,
        _("Compute them so"),
        [Models(), Reason(_("Why"))],
        lambda acting, values: run_model_choose(acting, code, values["model"], values["reason"]),
        saved,
        initial={"model": found.model},
        context={"crumbs": [(code, reverse("run", args=[actor.slug, code])), (title, "")]},
        nav="runs",
    )
    return enter(request, actor, sheet)
