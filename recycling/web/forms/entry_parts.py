"""A part of a form that fills one entry, field by field."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from recycling.records.actors import Actor
from recycling.web.forms.fields import Typed
from recycling.web.forms.forms import EntryForm, Row

_VALUE = re.compile(r"^[0-9]{1,6}(?:[.,][0-9]{1,6})?$", re.ASCII)


class EntryFields:
    """Lays fields by the entry's names and makes the entry of what was typed."""

    key = "entry"

    def __init__(
        self,
        entry: Callable[..., Any],
        fields: Mapping[str, forms.Field],
        title: Any = "",
        beside: tuple[str, ...] = (),
        **fixed: Any,
    ) -> None:
        self.entry, self.fields, self.title = entry, fields, title
        self.beside, self.fixed = beside, fixed

    def lay(self, form: EntryForm) -> None:
        row = Row("", title=_("More to say of it") if self.beside else "")
        form.section("entry", self.title).rows.append(row)
        for name, field in self.fields.items():
            form.add(row, name, field, beside=name in self.beside)
        row.title = ""

    def read(self, form: EntryForm) -> Any:
        given = dict(self.fixed)
        for name in self.fields:
            form.point(f"/{name}", "", itself=name)
            form.point(f"/values/{name}", "", itself=name)
            value = form.cleaned_data.get(name)
            if value not in (None, ""):
                given[name] = value
        return self.entry(**given)


class ValuesField(Typed):
    """Several measured values, one after another or a line each."""

    widget = forms.Textarea

    def __init__(self, label: Any, **options: Any) -> None:
        super().__init__(label, size="long", max_length=20_000, **options)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, str]:
        return {"rows": "4", "inputmode": "decimal", "autocomplete": "off"}

    def clean(self, value: Any) -> tuple[float, ...]:
        text = super().clean(value)
        words = [word.rstrip(",;") for word in re.split(r"[\s;]+", text) if word.rstrip(",;")]
        for place, word in enumerate(words, 1):
            if not _VALUE.match(word):
                raise ValidationError(
                    gettext_lazy(
                        "Value %(place)s, “%(word)s”, is not a number. Type them like 3.1 2.8 4.0."
                    ),
                    code="number-unreadable",
                    params={"place": place, "word": word[:40]},
                )
        return tuple(float(word.replace(",", ".")) for word in words)


def machine_crumbs(actor: Actor, machine: int, name: str, title: str) -> list[tuple[str, str]]:
    """Say where a page of a machine is."""
    url = reverse("machine", args=[actor.slug, machine])
    return [(_("Workshop"), reverse("set-up", args=[actor.slug])), (name, url), (title, "")]
