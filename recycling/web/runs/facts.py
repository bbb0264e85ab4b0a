"""The page that puts right what was noted of a run: who worked, checks, settings, times."""

from __future__ import annotations

from typing import Any

from django import forms as django_forms
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _

from recycling.queries.runs.runs import run_page
from recycling.records.actors import Actor
from recycling.records.runs.changes import FedChange, NotedChange, RunChange
from recycling.records.runs.runs import Noted, RunRecord
from recycling.services.runs.facts import run_change
from recycling.services.runs.undo_facts import facts_undo
from recycling.stages import COUNTING, stage
from recycling.stages.declaration import Field
from recycling.web.forms.choices import Choices
from recycling.web.forms.fields import LinesField, MomentField, tick
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.known_facts import KnownFacts
from recycling.web.forms.page import Saved, Sheet, enter, recording
from recycling.web.lots.facts import facts_saved, facts_sheet
from recycling.web.runs.log_parts import field_for
from recycling.web.runs.run_open import crumbs_in


class RunFacts(KnownFacts):
    """Who worked, when it began, the note, and all that was checked, set and fed."""

    def __init__(self, choices: Choices, run: RunRecord) -> None:
        members = list(dict.fromkeys([*(name for name, _said in choices.members), *run.operators]))
        fields: dict[str, Any] = {
            "operators": django_forms.MultipleChoiceField(
                label=_("Who worked"),
                choices=[(name, name) for name in members],
                widget=django_forms.CheckboxSelectMultiple,
                required=False,
            )
        }
        if not run.origin and run.stage not in COUNTING:
            fields["started_at"] = MomentField(_("Started"), required=True)
        fields["note"] = LinesField(_("Note"))
        known = {name: getattr(run, name) for name in fields} | {"operators": list(run.operators)}
        super().__init__(fields, known, run, "change")
        self.run, self.declared = run, stage(run.stage)

    def lay(self, form: EntryForm) -> None:
        super().lay(form)
        for what, noted, title in (
            ("checks", self.run.checks, _("Checks and notes")),
            ("settings", self.run.settings, _("Settings")),
        ):
            if noted or self._forgotten(what):
                self._lay_noted(form, what, noted, title)
        if self.run.feeds:
            section = form.section("feeds", _("Refills"))
            for fed in self.run.feeds:
                row = Row(f"feeds-{fed.fed}", fed.lot)
                section.rows.append(row)
                form.add(row, "at", MomentField(_("When"), required=True))
                form.initial.setdefault(f"feeds-{fed.fed}-at", fed.happened_at)

    def _lay_noted(self, form: EntryForm, what: str, noted: tuple[Noted, ...], title: str) -> None:
        section = form.section(what, title)
        for one in noted:
            row = Row(f"{what}-{one.noted}", str(_(one.label)), side_by_side=True)
            section.rows.append(row)
            form.add(row, "value", field_for(self._field(what, one.key)))
            form.add(row, "at", MomentField(_("When")))
            form.add(row, "out", tick(_("It was not so at all: take it out")), beside=True)
            form.initial.setdefault(f"{row.prefix}-value", one.value)
            form.initial.setdefault(f"{row.prefix}-at", one.happened_at)
        forgotten = self._forgotten(what)
        if forgotten:
            row = Row(f"{what}-new", _("Forgotten until now"), side_by_side=True)
            section.rows.append(row)
            for field in forgotten:
                form.add(row, field.key, field_for(field), beside=True)

    def _field(self, what: str, key: str) -> Field:
        declared = self.declared
        found = (
            (declared.check(key) if what == "checks" else declared.setting(key))
            if declared
            else None
        )
        return found or Field(key, key, "text")

    def _forgotten(self, what: str) -> list[Field]:
        if self.declared is None:
            return []
        noted = {one.key for one in getattr(self.run, what)}
        return [one for one in getattr(self.declared, what) if one.key not in noted]

    def read(self, form: EntryForm) -> dict[str, Any]:
        changed = super().read(form)
        if "operators" in changed:
            changed["operators"] = tuple(changed["operators"])
        for what in ("checks", "settings"):
            changed[what] = self._read_noted(form, what)
        feeds: list[FedChange] = []
        for fed in self.run.feeds:
            at = form.cleaned_data.get(f"feeds-{fed.fed}-at")
            if at and at != fed.happened_at.replace(microsecond=0, second=0):
                form.point(f"/feeds/{len(feeds)}", f"feeds-{fed.fed}", itself="at")
                feeds.append(FedChange(fed=fed.fed, at=at))
        return changed | {"feeds": tuple(feeds)}

    def _read_noted(self, form: EntryForm, what: str) -> tuple[NotedChange, ...]:
        changes: list[NotedChange] = []
        for one in getattr(self.run, what):
            prefix = f"{what}-{one.noted}"
            value, at, out = (
                form.cleaned_data.get(f"{prefix}-{name}") for name in ("value", "at", "out")
            )
            moved = at and at != one.happened_at.replace(microsecond=0, second=0)
            if not (out or moved or value != one.value):
                continue
            form.point(f"/{what}/{len(changes)}", prefix, itself="value", at="at", happened="out")
            changes.append(
                NotedChange(
                    noted=one.noted,
                    value=None if out or value == one.value else value,
                    at=at if moved else None,
                    happened=not out,
                )
            )
        for field in self._forgotten(what):
            value = form.cleaned_data.get(f"{what}-new-{field.key}")
            if value:
                form.point(f"/{what}/{len(changes)}", f"{what}-new", itself=field.key)
                changes.append(NotedChange(key=field.key, value=value))
        return tuple(changes)


@recording("correct")
def run_facts(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Put right who worked, when a run began, what was noted and set, and times of refills."""
    run = run_page(actor, code)
    sheet = facts_sheet(
        RunFacts(Choices(actor), run),
        crumbs_in(actor, run.code, _("Put the facts right")),
        "runs",
        deed=lambda acting, values: run_change(
            acting, code, RunChange(reason=values["reason"], **values["change"])
        ),
        saved=lambda result, _values: facts_saved(actor, result, "run"),
    )
    return enter(request, actor, sheet)


@recording("correct")
def facts_undo_page(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Take back the last change of facts: one press on the page that said so."""
    title = _("Undo")
    sheet = Sheet(
        title,
        title,
        [],
        lambda acting, _values: facts_undo(acting, code),
        lambda result, _values: Saved(result.code, _("Undone: the book says what it said before.")),
        context={"lede": _("What was changed last is again what it was. It stays readable.")},
        nav="runs",
    )
    return enter(request, actor, sheet)
