"""The part of a form that asks why."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy

from recycling.web.forms.fields import LinesField
from recycling.web.forms.forms import EntryForm, Row


class Reason:
    """The reason that a correction, a void, a hold or a release asks for."""

    key = "reason"
    hint = gettext_lazy("It stays readable with the entry.")

    def __init__(self, label: Any, hint: Any = hint) -> None:
        self.label, self.hint = label, hint

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section(self.key).rows.append(row)
        asked = LinesField(self.label, help_text=self.hint, required=True)
        form.add(row, "reason", asked)
        form.point("/reason", "", itself="reason")

    def read(self, form: EntryForm) -> str:
        return form.cleaned_data["reason"]
