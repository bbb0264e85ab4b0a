"""Parts of a run's form, laid from the stage's declaration: what goes in, and who and where."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from recycling.calc.lots.feed_order import BY_WHAT_IS_KNOWN, MODELS
from recycling.records.runs.entries import FeedEntry
from recycling.stages.declaration import Stage
from recycling.web.book_words import said
from recycling.web.forms.choices import Choices
from recycling.web.forms.fields import CodeField, LinesField, MassField, MomentField, choice_field
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.weighing import lay_scale


class Times:
    """When a run began and, for one that is recorded whole, when it ended.

    A run that is opened begins now, to the second, unless a time is typed: a whole minute would
    lie before lots that were made in it.
    """

    key = "times"

    def __init__(self, began: bool = True, ended: bool = True, ended_label: str = "") -> None:
        self.began, self.ended = began, ended
        self.ended_label = ended_label or _("Ended")

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("times").rows.append(row)
        hint = _("Leave empty for now.")
        if self.began and self.ended:
            started = MomentField(_("Began"), required=True, initial=timezone.now())
            form.add(row, "started_at", started)
        elif self.began:
            form.add(row, "started_at", MomentField(_("Began"), help_text=hint))
        if self.ended:
            form.add(row, "ended_at", MomentField(self.ended_label, help_text=hint))

    def read(self, form: EntryForm) -> dict[str, Any]:
        for name in ("started_at", "ended_at"):
            form.point(f"/{name}", "", itself=name)
        form.point("/at", "", itself="ended_at")
        return {name: form.cleaned_data.get(name) for name in ("started_at", "ended_at")}


def counted_at() -> Times:
    """Ask when something was counted: a count has no beginning."""
    return Times(began=False, ended_label=_("When it was counted"))


class At:
    """When something happened in a run that goes on."""

    key = "at"

    def lay(self, form: EntryForm) -> None:
        row = Row("", title=_("When"))
        form.section("at").rows.append(row)
        at = MomentField(_("When"), help_text=_("Leave empty for now."))
        form.add(row, "at", at, beside=True)

    def read(self, form: EntryForm) -> Any:
        for pointer in ("/at", "/ended_at", "/happened_at", "/checks", "/settings"):
            form.point(pointer, "", itself="at")
        return form.cleaned_data.get("at")


class Place:
    """The machine, the scale, and who worked."""

    key = "place"

    def __init__(self, choices: Choices, stage: Stage) -> None:
        self.choices, self.stage = choices, stage

    @property
    def machine_field(self) -> str:
        return f"machine_{self.stage.key}"

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("place").rows.append(row)
        if self.stage.machine or self.stage.any_machine:
            machines = [(one.name, one.name) for one in self.choices.machines(self.stage.machine)]
            if len(machines) == 1 and self.stage.machine:
                form.initial.setdefault(self.machine_field, machines[0][0])
            empty = "" if self.stage.keeps_heel else _("none of these")
            machine = choice_field(_("Machine"), machines, empty=empty, prompt=_("choose"))
            machine.plain = self.stage.keeps_heel  # type: ignore[attr-defined]
            if not machines:
                machine.help_text = _(
                    "No such machine is set up yet: a lead adds it under Workshop."
                )
            form.add(row, self.machine_field, machine)
        lay_scale(form, row, self.choices)

    def read(self, form: EntryForm) -> dict[str, str]:
        form.point("/machine", "", itself=self.machine_field)
        form.point("/heel", "", itself=self.machine_field)
        return {
            "machine": form.cleaned_data.get(self.machine_field) or "",
            "scale": form.cleaned_data.get("scale") or "",
        }


class Workers:
    """Who worked, and what else is to be said."""

    key = "workers"

    def __init__(self, choices: Choices) -> None:
        self.choices = choices

    def lay(self, form: EntryForm) -> None:
        from django import forms as django_forms

        row = Row("", title=_("Who worked, note"))
        form.section("workers").rows.append(row)
        operators = django_forms.MultipleChoiceField(
            label=_("Who worked"),
            choices=self.choices.members,
            widget=django_forms.CheckboxSelectMultiple,
            required=False,
            initial=[self.choices.actor.name],
        )
        form.add(row, "operators", operators, beside=True)
        form.add(row, "note", LinesField(_("Note")), beside=True)

    def read(self, form: EntryForm) -> dict[str, Any]:
        form.point("/operators", "", itself="operators")
        form.point("/note", "", itself="note")
        return {
            "operators": tuple(form.cleaned_data.get("operators", ())),
            "note": form.cleaned_data.get("note", ""),
        }


BY_TIMES = "by times"
"""What the form sends where the model is left to what is known."""


class ModelChoice:
    """How the origins of what comes out are computed, for a stage whose machine keeps a heel."""

    key = "composition_model"

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("model").rows.append(row)
        known = _("by what is known: feed order where the times tell it, else well mixed")
        choices = [(BY_TIMES, known), *((one, said(one, "model")) for one in MODELS)]
        hint = _(
            "Times come from refills, or from draws and outputs while the run goes on. Feed order"
            " that is chosen here takes what is listed as the order."
        )
        label = _("Origins computed as")
        field = choice_field(label, choices, initial=BY_TIMES, few=True, help_text=hint)
        form.add(row, "model", field)
        form.point("/composition_model", "", itself="model")

    def read(self, form: EntryForm) -> str:
        chosen = form.cleaned_data.get("model") or BY_TIMES
        return BY_WHAT_IS_KNOWN if chosen == BY_TIMES else chosen


class Feeds:
    """Refills in the order fed, for a stage whose product comes out in the order of feeding."""

    key = "feeds"

    def __init__(self, choices: Choices) -> None:
        self.choices = choices
        self.rows: list[Row] = []

    def lay(self, form: EntryForm) -> None:
        keys = form.row_keys("feeds", [])
        hint = _("In the order fed, where it was noted; each from a lot that goes in.")
        section = form.section("feeds", _("Refills"), hint)
        section.more.append(("feeds", _("Add a refill")))
        self.rows = []
        for place in range(len(keys)):
            row = Row(f"feeds-{place}", _("Refill %d") % (place + 1))
            section.rows.append(row)
            self.rows.append(row)
            form.add(row, "at", MomentField(_("When")))
            form.add(row, "lot", CodeField(_("Code of the lot"), slug=self.choices.actor.slug))
            form.add(row, "mass", MassField(_("Mass fed")))
        form.keep_rows("feeds", keys)

    def read(self, form: EntryForm) -> tuple[FeedEntry, ...]:
        feeds: list[FeedEntry] = []
        for row in self.rows:
            at, lot, mass = (
                form.cleaned_data.get(f"{row.prefix}-{name}") for name in ("at", "lot", "mass")
            )
            if not (at or lot or mass):
                continue
            if at and lot and mass:
                pointer = f"/feeds/{len(feeds)}"
                form.point(pointer, row.prefix, itself="lot", at="at", lot="lot", mass_mg="mass")
                feeds.append(FeedEntry(at, lot, mass))
                continue
            for name, given in (("at", at), ("lot", lot), ("mass", mass)):
                if not given:
                    form.add_error(f"{row.prefix}-{name}", _("A refill needs time, lot and mass."))
        return tuple(feeds)
