"""A part of a form that holds facts as the book has them, and reads those that were changed."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from recycling.web.forms.forms import EntryForm, Row
from shared.units import show_mass

SEEN = "seen"


class KnownFacts:
    """Fields that hold what is; only what was changed is read.

    Attributes
    ----------
    fields : mapping of str to Field
        Fields by the names that they have in the change.
    known : mapping of str to object
        What the book says of each.
    state : object
        The whole of what is shown: when it was changed meanwhile, nothing is kept.
    key : str
        Under which the form keeps what was changed.
    """

    def __init__(
        self, fields: Mapping[str, forms.Field], known: Mapping[str, Any], state: object, key: str
    ) -> None:
        self.fields, self.known, self.key = fields, known, key
        self.digest = hashlib.sha256(repr(state).encode()).hexdigest()[:16]

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section(self.key).rows.append(row)
        for name, field in self.fields.items():
            form.add(row, name, field)
            form.initial.setdefault(name, _typed(name, self.known[name]))
            form.point(f"/{name}", "", itself=name)
        if SEEN not in form.fields:
            form.fields[SEEN] = forms.CharField(required=False, widget=forms.HiddenInput)
            form.initial[SEEN] = self.digest

    def read(self, form: EntryForm) -> dict[str, Any]:
        given = {name: form.cleaned_data.get(name) for name in self.fields}
        changed = {name: value for name, value in given.items() if value != self.known[name]}
        if changed and form.cleaned_data.get(SEEN) != self.digest:
            form.add_error(None, _("Somebody changed this meanwhile; open it again."))
        return changed


def _typed(name: str, value: Any) -> Any:
    return show_mass(value) if name.endswith("_mg") and value is not None else value


def with_known(choices: list[tuple[str, str]], known: str) -> list[tuple[str, str]]:
    """Offer also what the book has, where it is offered no longer."""
    offered = {key for key, _said in choices}
    return choices if not known or known in offered else [(known, known), *choices]
