"""The page that lists the work, and what pages say of a stage before it starts."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from recycling.records.actors import Actor
from recycling.stages import STAGES
from recycling.stages.cautions import CAUTIONS
from recycling.stages.declaration import PRODUCT, RECEIVED, Stage
from recycling.web.book_words import stage_said
from recycling.web.forms.page import recording
from recycling.web.pages.menu import beside

HAZARDS = {
    "sharp edges": "sharp",
    "moving blades": "blades",
    "rotating parts": "blades",
    "hot melt": "heat",
    "fire": "heat",
    "crushing": "blades",
    "wet floor": "electricity",
}
"""Caution → sign it is drawn with; one that is not named has its own, or a plain dot."""


def cautions_of(declared: Stage | None) -> list[dict[str, str]]:
    """Say the cautions of a stage, each with the name of its hazard."""
    names = declared.cautions if declared else ()
    return [
        {
            "hazard": HAZARDS.get(name, name),
            "label": capfirst(_(name)),
            "text": _(CAUTIONS[name]),
        }
        for name in names
    ]


def crumbs_of(actor: Actor, title: str) -> list[tuple[str, str]]:
    return [(_("Record"), reverse("record", args=[actor.slug])), (title, "")]


def receive_steps(actor: Actor) -> list[dict[str, Any]]:
    """The ways in which mass enters the book: one by one, or many at once."""
    named = [
        ("collection-new", _("A collection"), _("bags that somebody gave"), "bottles"),
        ("purchase-new", _("A purchase"), _("pellets, purge compound"), "pellets"),
        ("opening-new", _("An opening count"), _("stock when the book begins"), "heel"),
        ("imports", _("A list"), _("a spreadsheet or CSV with many bags"), "flake"),
    ]
    return [
        {"url": reverse(name, args=[actor.slug]), "label": label, "note": note, "form": shape}
        for name, label, note, shape in named
    ]


def _shape(declared: Stage) -> str:
    """Draw what a stage gives first, or the first thing it takes."""
    given = [output.form for output in declared.gives if output.role == PRODUCT]
    forms = given or list(declared.usual_forms)
    return forms[0] if forms and not declared.border and not declared.counts else "run"


def _stage_step(actor: Actor, declared: Stage) -> dict[str, Any]:
    return {
        "url": reverse("record-stage", args=[actor.slug, declared.key]),
        "label": stage_said(declared.key),
        "note": _(declared.summary),
        "form": _shape(declared),
    }


@recording("record")
def record(request: HttpRequest, actor: Actor) -> HttpResponse:
    """List all there is to record."""
    work = [one for one in STAGES if one.border != RECEIVED]
    shown = {
        "nav": "record",
        "incoming": receive_steps(actor),
        "work": [_stage_step(actor, one) for one in work if one.works],
        "beside": beside(actor).steps,
        "leaving": [_stage_step(actor, one) for one in work if not one.works],
    }
    return render(request, "forms/record.html", shown)


def receive_page(request: HttpRequest, actor: Actor, declared: Stage) -> HttpResponse:
    shown = {
        "nav": "record",
        "title": stage_said(declared.key),
        "lede": _(declared.summary),
        "incoming": receive_steps(actor),
        "crumbs": crumbs_of(actor, stage_said(declared.key)),
    }
    return render(request, "lots/receive.html", shown)
