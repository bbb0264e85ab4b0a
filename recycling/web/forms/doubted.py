"""Doubts on recording pages: what else a figure may be, by one tap, or that it is right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django import forms
from django.http import HttpRequest
from django.utils import timezone
from django.utils.text import capfirst

from recycling.records.balance.doubts import EntryDoubt
from recycling.web.forms.fields import MomentField
from recycling.web.forms.forms import EntryForm
from recycling.web.forms.moments import WRITTEN
from recycling.web.languages import in_language

CONFIRMED, RIGHT, INSTEAD = "confirmed", "right", "instead"
"""Keys of doubts that are right; fields whose typed text is right; a field and its new text."""


@dataclass(frozen=True)
class Instead:
    """What a figure may be: what is said of it, and what the button sends."""

    text: str
    sent: str


@dataclass(frozen=True)
class ShownDoubt:
    """A doubt before recording: with what it may be instead, and a key where it can be answered."""

    said: str
    key: str
    instead: tuple[Instead, ...]


def shown_doubts(form: EntryForm, doubts: Iterable[EntryDoubt]) -> list[ShownDoubt]:
    """Show doubts with buttons that put a figure right, where the form has its field."""
    shown = []
    for doubt in doubts:
        name = form.name_at(doubt.field)
        offered, field = [], form.fields.get(name)
        for one in doubt.suggestions:
            text = one.value
            sent = text
            if isinstance(field, MomentField):
                text = sent = timezone.localtime(datetime.fromisoformat(text)).strftime(WRITTEN)
            elif isinstance(field, forms.ChoiceField):
                text = dict(field.choices).get(text, text)  # type: ignore[arg-type]
            if name:
                offered.append(Instead(str(text).replace("T", " "), f"{name}={sent}"))
        key = doubt.key if doubt.field else ""
        shown.append(ShownDoubt(capfirst(in_language(doubt.said)), key, tuple(offered)))
    return shown


def put_instead(request: HttpRequest) -> None:
    """Put what a button proposes into its field, as if it had been typed."""
    name, found, text = request.POST.get(INSTEAD, "").partition("=")
    if not found:
        return
    sent = request.POST.copy()
    del sent[INSTEAD]
    sent[name] = text
    request.POST = sent  # type: ignore[assignment]


def said_right(request: HttpRequest, form: EntryForm) -> frozenset[str]:
    """Give keys of doubts, and pointers to figures, that were said to be right as they stand."""
    sure = set(request.POST.getlist(CONFIRMED))
    for said in request.POST.getlist(RIGHT):
        name, _, text = said.partition("=")
        if text and form.typed(name) == text:
            sure |= form.places_of(name)
    return frozenset(sure)
