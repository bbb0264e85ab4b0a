"""Fields that read what people type and refuse what could be read in two ways."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from recycling.web.forms.moments import WRITTEN, read_local
from recycling.web.languages import in_language
from shared.codes import read_scan
from shared.errors import Refused
from shared.texts import refuse_sign
from shared.units import parse_mass

_WHOLE = re.compile(r"^[0-9]{1,9}$", re.ASCII)
_NUMBER = re.compile(r"^-?[0-9]{1,9}(?:[.,][0-9]{1,9})?$", re.ASCII)
FEW = 6
"""Up to so many choices are shown as radios, more as a list."""


class LocalInput(forms.DateTimeInput):
    input_type = "datetime-local"


class DayInput(forms.DateInput):
    input_type = "date"


class Typed(forms.CharField):
    """A line of text that knows its unit and its width on the page."""

    lines = False

    def __init__(self, label: Any, *, unit: str = "", size: str = "", **options: Any) -> None:
        self.unit, self.size = unit, size
        options.setdefault("required", False)
        options.setdefault("max_length", 500)
        super().__init__(label=label, **options)

    def validate(self, value: Any) -> None:
        """Refuse signs that are not kept, beside what a field refuses anyway."""
        super().validate(value)
        try:
            refuse_sign(str(value or ""), self.lines)
        except Refused as refused:
            (problem,) = refused.problems
            raise ValidationError(in_language(problem.detail), code=problem.code) from refused

    def widget_attrs(self, widget: forms.Widget) -> dict[str, str]:
        """Leave lengths to the answer, so that no script-less browser cuts what is typed."""
        return {"autocomplete": "off"}


class MassField(Typed):
    """A mass: a bare whole number is grams, anything else says its unit."""

    def __init__(self, label: Any, *, zero: bool = False, **options: Any) -> None:
        self.zero = zero
        super().__init__(label, unit="g", size="mass", max_length=40, **options)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, str]:
        return {"inputmode": "decimal", "autocomplete": "off"}

    def clean(self, value: Any) -> int | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return parse_mass(text)
        except Refused as refused:
            (problem,) = refused.problems
            if self.zero and problem.code == "mass-not-positive":
                return 0
            raise ValidationError(in_language(problem.detail), code=problem.code) from refused


class WholeField(Typed):
    """A count of things."""

    def __init__(self, label: Any, **options: Any) -> None:
        super().__init__(label, size="short", max_length=40, **options)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, str]:
        return {"inputmode": "numeric", "autocomplete": "off"}

    def clean(self, value: Any) -> int | None:
        text = super().clean(value)
        if text and not _WHOLE.match(text):
            raise ValidationError(
                _("“%(text)s” is not a whole number. Use digits only, like 120."),
                code="count-wrong",
                params={"text": text},
            )
        return int(text) if text else None


class NumberField(Typed):
    """A measured number with its unit."""

    def __init__(self, label: Any, **options: Any) -> None:
        super().__init__(label, size="short", max_length=40, **options)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, str]:
        return {"inputmode": "decimal", "autocomplete": "off"}

    def clean(self, value: Any) -> float | None:
        text = super().clean(value)
        if text and not _NUMBER.match(text):
            raise ValidationError(
                _("“%(text)s” is not a number. Type it like 1.75."),
                code="number-unreadable",
                params={"text": text},
            )
        return float(text.replace(",", ".")) if text else None


class CodeField(Typed):
    """A code from a label, typed or scanned; kept as typed when its check character is wrong.

    `slug` is the workshop's own: the address on its labels is taken too, and no other's.
    """

    def __init__(self, label: Any, *, slug: str = "", **options: Any) -> None:
        self.slug = slug.lower()
        super().__init__(label, size="code", max_length=200, **options)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, str]:
        return {"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}

    def clean(self, value: Any) -> str:
        text = super().clean(value)
        scanned = read_scan(text)
        if scanned is None or scanned.slug not in ("", self.slug):
            return text
        return scanned.code


class MomentField(Typed):
    """A local date and time in the workshop's zone; the form turns it into a moment."""

    widget = LocalInput

    def __init__(self, label: Any, **options: Any) -> None:
        super().__init__(label, max_length=40, **options)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, str]:
        return {"autocomplete": "off"}

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, datetime):
            return timezone.localtime(value).strftime(WRITTEN)
        return value

    def clean(self, value: Any) -> datetime | None:
        text = super().clean(value)
        try:
            return read_local(text) if text else None
        except Refused as refused:
            (problem,) = refused.problems
            raise ValidationError(in_language(problem.detail), code=problem.code) from refused


class DayField(Typed):
    """A date."""

    widget = DayInput

    def __init__(self, label: Any, **options: Any) -> None:
        super().__init__(label, size="mass", max_length=40, **options)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, str]:
        return {"autocomplete": "off"}

    def clean(self, value: Any) -> date | None:
        text = super().clean(value)
        try:
            return date.fromisoformat(text) if text else None
        except ValueError as error:
            raise ValidationError(
                _("“%(text)s” is not a date. Type it like 2026-05-09."),
                code="date-unreadable",
                params={"text": text},
            ) from error


class LinesField(Typed):
    """A longer text."""

    lines = True
    widget = forms.Textarea

    def __init__(self, label: Any, **options: Any) -> None:
        super().__init__(label, size="long", max_length=2000, **options)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, str]:
        return {"rows": "3"}


def choice_field(
    label: Any,
    choices: Iterable[tuple[str, Any]],
    *,
    empty: Any = "",
    prompt: Any = "",
    few: bool | None = None,
    **options: Any,
) -> forms.ChoiceField:
    """Make a field of radios when the choices are few, a list when they are many.

    `empty` is a choice of its own, as in none; `prompt` asks to choose from a list.
    What is chosen goes to the book as it is: the deed says what it does not know.
    """
    listed = list(choices)
    radios = len(listed) <= FEW if few is None else few
    if empty or (prompt and not radios):
        listed = [("", empty or prompt), *listed]
    options.setdefault("required", False)
    widget = forms.RadioSelect if radios else forms.Select
    field = forms.ChoiceField(label=label, choices=listed, widget=widget, **options)
    field.unit, field.size = "", ""  # type: ignore[attr-defined]
    return field


def tick(label: Any, **options: Any) -> forms.BooleanField:
    """Make a box to tick."""
    field = forms.BooleanField(label=label, required=False, **options)
    field.unit, field.size = "", ""  # type: ignore[attr-defined]
    return field
