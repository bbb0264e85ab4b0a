"""Parts of a run's form for what is checked, set and counted."""

from __future__ import annotations

from collections.abc import Sequence

from django import forms
from django.utils.translation import gettext as _

from recycling.records.lots.mass_entries import CountEntry, WeighingEntry
from recycling.records.runs.entries import CheckEntry, SettingEntry
from recycling.stages.declaration import Stage
from recycling.stages.fields import Field
from recycling.web.forms.choices import Choices
from recycling.web.forms.fields import CodeField, MassField, Typed, choice_field
from recycling.web.forms.forms import EntryForm, Row

FEW_CHECKED = 4
"""Up to so many choices of a check are shown as radios."""


def field_for(declared: Field) -> forms.Field:
    """Make a field of what a stage declares; what is typed is judged by the deed."""
    if declared.kind == "choice":
        choices = [(one, _(one)) for one in declared.choices]
        few = len(choices) <= FEW_CHECKED
        asked = _("choose") if declared.required else _("not noted")
        return choice_field(
            _(declared.label), choices, prompt=asked, few=few, help_text=_hint(declared)
        )
    size = "short" if declared.kind == "number" else "long"
    typed = Typed(_(declared.label), unit=declared.unit, size=size, help_text=_hint(declared))
    if declared.kind == "number":
        typed.widget.attrs["inputmode"] = "decimal"
    return typed


def _hint(declared: Field) -> str:
    hint = _(declared.hint) if declared.hint else ""
    if declared.limit is None:
        return hint
    limit = _("Limit: %(limit)g %(unit)s.") % {"limit": declared.limit, "unit": declared.unit}
    return f"{hint} {limit}".strip()


class Checks:
    """What is noted once; those that are needed stand first when only they are wanted."""

    key = "checks"

    def __init__(self, stage: Stage, noted: Sequence[str] = ()) -> None:
        self.stage, self.noted = stage, noted

    def lay(self, form: EntryForm) -> None:
        if not self.stage.checks:
            return
        section = form.section("checks", _("Checks and notes"))
        row = Row("checks", side_by_side=True)
        section.rows.append(row)
        for declared in self.stage.checks:
            field = field_for(declared)
            if declared.required and declared.key not in self.noted:
                field.help_text = f"{field.help_text} {_('Needed.')}".strip()
            form.add(row, declared.key, field)

    def read(self, form: EntryForm) -> tuple[CheckEntry, ...]:
        checks: list[CheckEntry] = []
        for declared in self.stage.checks:
            value = form.cleaned_data.get(f"checks-{declared.key}") or ""
            form.point(f"/checks/{declared.key}", "checks", itself=declared.key)
            if value:
                form.point(f"/checks/{len(checks)}", "checks", itself=declared.key)
                checks.append(CheckEntry(declared.key, value, form.values.get("at")))
        return tuple(checks)


class Settings:
    """What is set at the start, and logged as it changes."""

    key = "settings"

    def __init__(self, stage: Stage, changed: bool = False) -> None:
        self.stage, self.changed = stage, changed

    def lay(self, form: EntryForm) -> None:
        if not self.stage.settings:
            return
        title = _("What was changed") if self.changed else _("Settings at the start")
        section = form.section("settings", title)
        row = Row("settings", side_by_side=True)
        section.rows.append(row)
        for declared in self.stage.settings:
            form.add(row, declared.key, field_for(declared))
        if self.changed:
            form.add(row, "seen", Typed(_("What was seen after it"), size="long"))

    def read(self, form: EntryForm) -> tuple[SettingEntry, ...]:
        settings: list[SettingEntry] = []
        seen = form.cleaned_data.get("settings-seen") or ""
        for declared in self.stage.settings:
            value = form.cleaned_data.get(f"settings-{declared.key}") or ""
            if value:
                pointer = f"/settings/{len(settings)}"
                form.point(pointer, "settings", itself=declared.key, seen="seen")
                at = form.values.get("at")
                settings.append(SettingEntry(declared.key, value, at, seen))
        if seen and not settings:
            form.add_error("settings-seen", _("Say also what was changed."))
        return tuple(settings)


class Counts:
    """Lots and the mass that was found of each; zero where nothing was there."""

    key = "counts"

    def __init__(self, choices: Choices, code: str = "") -> None:
        self.choices, self.code = choices, code
        self.rows: list[Row] = []

    def lay(self, form: EntryForm) -> None:
        keys = ["row"] if self.code else form.row_keys("counts", ["row"])
        section = form.section("counts", "" if self.code else _("What was found"))
        if not self.code:
            section.more.append(("counts", _("Add a lot")))
        self.rows = []
        for place in range(len(keys)):
            row = Row(f"counts-{place}", "" if self.code else _("Lot %d") % (place + 1))
            section.rows.append(row)
            self.rows.append(row)
            if not self.code:
                label, slug = _("Code of the lot, typed or scanned"), self.choices.actor.slug
                form.add(row, "lot", CodeField(label, slug=slug))
            hint = _("Net, without its container; 0 when nothing was there.")
            form.add(row, "mass", MassField(_("Mass found"), zero=True, help_text=hint))
        if not self.code:
            form.keep_rows("counts", keys)

    def read(self, form: EntryForm) -> tuple[CountEntry, ...]:
        counts: list[CountEntry] = []
        weighing = WeighingEntry(scale=form.cleaned_data.get("scale") or "")
        for row in self.rows:
            lot = self.code or form.cleaned_data.get(f"{row.prefix}-lot") or ""
            mass_mg = form.cleaned_data.get(f"{row.prefix}-mass")
            if mass_mg is None and not lot:
                continue
            if mass_mg is None:
                form.add_error(f"{row.prefix}-mass", _("Give the mass found, 0 for nothing."))
                continue
            where = "mass" if self.code else "lot"
            places = {"itself": where, "lot": where, "mass_mg": "mass", "weighing": "mass"}
            form.point(f"/counts/{len(counts)}", row.prefix, **places)
            counts.append(CountEntry(lot, mass_mg, weighing))
        form.point("/counts", "counts-0", itself="mass")
        return tuple(counts)
