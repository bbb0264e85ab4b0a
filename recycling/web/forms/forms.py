"""A form made of parts, each of which knows which piece of the entry its fields fill."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Protocol

from django import forms
from django.forms.utils import ErrorDict
from django.utils import timezone
from django.utils.translation import gettext as _

from recycling.web.forms.fields import MomentField
from recycling.web.forms.moments import (
    comes_twice,
    moment_of,
    read_local,
    read_moment,
    which_choices,
)
from recycling.web.languages import in_language
from shared.errors import Problem, Refused

MOST_ROWS = 200
FOLD = "_which"
MADE_AT = "made_at"
"""When an entry was made that waited on a device: stands for “now” where no time was typed."""
WEIGHING = ("gross", "tare", "container", "net")


class Part(Protocol):
    """A piece of a form: lays its fields, and reads its piece of the entry from them."""

    key: str

    def lay(self, form: EntryForm) -> None: ...

    def read(self, form: EntryForm) -> Any: ...


@dataclass
class Row:
    """Fields that belong together: a bag, a lot drawn, an output.

    Those `beside` are seldom needed; a `folded` row is shown by its title until it is opened.
    """

    prefix: str
    title: str = ""
    names: list[str] = field(default_factory=list)
    beside: list[str] = field(default_factory=list)
    weighing: bool = False
    shape: str = ""
    folded: bool = False
    side_by_side: bool = False


@dataclass
class Section:
    """A titled stretch of a form: rows, and buttons that add one more."""

    key: str
    title: Any = ""
    hint: Any = ""
    rows: list[Row] = field(default_factory=list)
    more: list[tuple[str, Any]] = field(default_factory=list)


class EntryForm(forms.Form):
    """Fields of all parts under one roof, so that one submit carries them all.

    ``quiet`` keeps what was typed without judging it, as when one more row is asked for.
    """

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        parts: Sequence[Part],
        *,
        quiet: bool = False,
        initial: Mapping[str, Any] | None = None,
    ) -> None:
        super().__init__(data, initial=initial, label_suffix="", use_required_attribute=False)  # type: ignore[arg-type]
        self.parts, self.quiet = parts, quiet
        self.sections: list[Section] = []
        self.values: dict[str, Any] = {}
        self._places: dict[str, str] = {}
        self.usual: dict[str, Any] = {}
        self.offers = False
        self.programmes: dict[str, str] = {}
        self.scale_steps: dict[str, list[list[float | None]]] = {}
        for part in parts:
            part.lay(self)
        self._ask_which_of_two()

    def section(self, key: str, title: Any = "", hint: Any = "") -> Section:
        """Begin a new stretch of the form."""
        section = Section(key, title, hint)
        self.sections.append(section)
        return section

    def typed(self, name: str) -> str:
        """Give what was typed into a field, unjudged."""
        if self.is_bound:
            return str(self.data.get(name, "")).strip()
        return str(self.initial.get(name, "") or "")

    def add(self, row: Row, name: str, added: forms.Field, beside: bool = False) -> None:
        """Put a field into a row; `beside` among those that are seldom needed."""
        full = f"{row.prefix}-{name}" if row.prefix else name
        added.row_title = row.title  # type: ignore[attr-defined]
        if bool(row.prefix) or beside:
            added.plain = True  # type: ignore[attr-defined]
        self.fields[full] = added
        (row.beside if beside else row.names).append(full)

    def row_keys(self, section: str, start: Sequence[str]) -> list[str]:
        """Say which rows a section has: those it starts with, and each one asked for."""
        if not self.is_bound:
            return list(start)
        asked = self.data.get("more", "")
        keys = [key for key in self.data.get(f"{section}-rows", "").split(",") if key]
        if asked == section or asked.startswith(f"{section}:"):
            keys.append(asked.partition(":")[2] or "row")
        return keys[:MOST_ROWS]

    def keep_rows(self, section: str, keys: Sequence[str]) -> None:
        """Let the page say next time which rows there are."""
        self.fields[f"{section}-rows"] = forms.CharField(required=False, widget=forms.HiddenInput)
        self.initial[f"{section}-rows"] = ",".join(keys)
        if self.is_bound:
            self.data = self.data.copy()  # type: ignore[attr-defined]
            self.data[f"{section}-rows"] = ",".join(keys)  # type: ignore[index]

    def carry(self, section: Section, names: Sequence[str]) -> None:
        """Let a row that was just asked for begin with what the row before it says."""
        if not self._added(section) or len(section.rows) < 2:
            return
        before, fresh = section.rows[-2:]
        self.data = self.data.copy()  # type: ignore[attr-defined]
        for name in names:
            if f"{fresh.prefix}-{name}" in self.fields:
                kept = self.data.get(f"{before.prefix}-{name}", "")
                self.data[f"{fresh.prefix}-{name}"] = kept  # type: ignore[index]

    def _added(self, section: Section) -> bool:
        asked = str(self.data.get("more", "")) if self.is_bound else ""
        return asked.partition(":")[0] == section.key

    def _ask_which_of_two(self) -> None:
        if not self.is_bound:
            return
        laid = dict(self.fields)
        for name, one in laid.items():
            if isinstance(one, MomentField) and (local := self._twice(name)) is not None:
                choices = which_choices(local, timezone.get_current_timezone())
                label = _("Which of the two?")
                which = forms.ChoiceField(
                    label=label, choices=choices, widget=forms.RadioSelect, required=False
                )
                which.row_title = one.row_title  # type: ignore[attr-defined]
                self.fields[name + FOLD] = which
                self._put_after(name, name + FOLD)

    def _twice(self, name: str) -> datetime | None:
        try:
            local = read_local(self.typed(name))
        except Refused:
            return None
        return local if comes_twice(local, timezone.get_current_timezone()) else None

    def _put_after(self, name: str, added: str) -> None:
        for section in self.sections:
            for row in section.rows:
                for names in (row.names, row.beside):
                    if name in names:
                        names.insert(names.index(name) + 1, added)

    def full_clean(self) -> None:
        if self.quiet:
            self._errors, self.cleaned_data = ErrorDict(), {}
            return
        super().full_clean()

    def clean(self) -> dict[str, Any]:
        for name, one in self.fields.items():
            if isinstance(one, MomentField) and self.cleaned_data.get(name):
                self._fix(name)
        self._stand_in_for_now()
        if not self.errors:
            for part in self.parts:
                self.values[part.key] = part.read(self)
        return self.cleaned_data

    def _fix(self, name: str) -> None:
        which = self.cleaned_data.get(name + FOLD, "")
        zone = timezone.get_current_timezone()
        try:
            self.cleaned_data[name] = moment_of(self.cleaned_data[name], zone, which)
        except Refused as refused:
            (problem,) = refused.problems
            asked = name + FOLD if name + FOLD in self.fields else name
            self.add_error(asked, in_language(problem.detail))

    def _stand_in_for_now(self) -> None:
        """Give an entry that waited the moment it was made wherever an empty time means now."""
        if not self.typed(MADE_AT):
            return
        try:
            made_at = read_moment(self.typed(MADE_AT))
        except Refused as refused:
            self.add_problems(refused.problems)
            return
        for name, one in self.fields.items():
            if isinstance(one, MomentField) and "-" not in name and not self.typed(name):
                self.cleaned_data[name] = made_at

    def point(self, pointer: str, prefix: str, **fields: str) -> None:
        """Note which fields fill the entry from this pointer on; `_` stands for `/`."""
        for path, name in fields.items():
            place = pointer if path == "itself" else f"{pointer}/{path.replace('__', '/')}"
            self._places[place] = f"{prefix}-{name}" if prefix else name

    def places_of(self, name: str) -> set[str]:
        """Give the pointers into the entry that a field fills."""
        return {place for place, filled in self._places.items() if filled == name}

    def name_at(self, pointer: str) -> str:
        """Give the field that fills the entry at a pointer, or at what holds it; empty for none."""
        place = pointer
        while place and place not in self._places:
            place = place.rpartition("/")[0]
        name = self._places.get(place, "") if place else ""
        return name if name in self.fields else ""

    def add_problems(self, problems: Iterable[Problem]) -> None:
        """Put each problem of a refused entry at the field it is about."""
        for problem in problems:
            name = self.name_at(problem.pointer)
            self.add_error(name or None, in_language(problem.detail))
            if name and problem.suggestions:
                self.fields[name].offers = problem.suggestions  # type: ignore[attr-defined]
                self.offers = True

    @property
    def laid(self) -> list[dict[str, Any]]:
        """The sections with their rows as bound fields, for the page."""
        return [
            {
                "section": section,
                "rows": [
                    self._laid_row(row, fresh=self._added(section) and row is section.rows[-1])
                    for row in section.rows
                ],
            }
            for section in self.sections
        ]

    def _laid_row(self, row: Row, fresh: bool) -> dict[str, Any]:
        weighing = {f"{row.prefix}-{name}": name for name in WEIGHING} if row.weighing else {}
        beside = [self[name] for name in row.beside]
        if fresh and row.weighing:
            self.fields[f"{row.prefix}-gross"].widget.attrs["autofocus"] = True
        return {
            "row": row,
            "fields": [self[name] for name in row.names if name not in weighing],
            "beside": beside,
            "open": any(self._spoken(bound) for bound in beside),
            "fresh": fresh,
            "unfolded": fresh or any(self._spoken(self[name]) for name in row.names),
            **{name: self[full] for full, name in weighing.items() if full in self.fields},
        }

    def _spoken(self, bound: forms.BoundField) -> bool:
        """Whether a field holds something that a person typed, or is wrong."""
        if not self.is_bound:
            return False
        sent = bound.value()
        return bool(bound.errors) or bool(sent) and str(sent) != str(bound.initial or "")

    @property
    def problem_lines(self) -> Iterator[dict[str, str]]:
        """Every error with the address of its field, for the summary above the form."""
        for name, errors in self.errors.items():
            for error in errors:
                line = {"text": str(error)}
                if name in self.fields:
                    bound = self[name]
                    title = getattr(bound.field, "row_title", "")
                    line["url"] = f"#{bound.id_for_label or bound.auto_id}"
                    line["url_label"] = f"{title}: {bound.label}" if title else str(bound.label)
                yield line
