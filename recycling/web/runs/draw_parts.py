"""The part of a run's form for what goes in: lots taken whole by a tap, or a part of one."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext as _

from recycling.records.lots.mass_entries import DrawEntry, WeighingEntry
from recycling.stages.declaration import HEEL, Stage
from recycling.web.forms.choices import Choices
from recycling.web.forms.fields import CodeField, MassField, choice_field, tick
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.weighing import how_choices

WHOLE = "whole-lots"
MOST_TAPPED = 24
"""Up to so many lots that fit are listed to be ticked; more are found by code."""


class Draws:
    """Lots that are drawn: chosen from what fits, or by a code that is typed or scanned."""

    key = "inputs"

    def __init__(self, choices: Choices, stage: Stage, most: int = 0) -> None:
        self.choices, self.stage, self.most = choices, stage, most
        self.rows: list[Row] = []

    def lay(self, form: EntryForm) -> None:
        self._lay_whole(form)
        keys = form.row_keys("inputs", ["row"] * max(self.most or self.stage.least_lots, 1))
        whole = WHOLE in form.fields
        title = _("A part of a lot, or by its code") if whole else _("What goes in")
        section = form.section("inputs", title)
        if self.most != 1:
            section.more.append(("inputs", _("Add a lot")))
        self.rows = []
        for place in range(len(keys)):
            title = _("Lot %d") % (place + 1) if self.most != 1 else ""
            folded = whole and not place and not form.typed("inputs-0-code")
            row = Row(f"inputs-{place}", title, folded=folded)
            section.rows.append(row)
            self.rows.append(row)
            self._lay_row(form, row)
        form.keep_rows("inputs", keys)

    def _lay_whole(self, form: EntryForm) -> None:
        """Offer what fits to be taken whole, several lots by a tap each."""
        if self.most == 1 or not 1 <= len(self._fitting) <= MOST_TAPPED:
            return
        section = form.section("whole", _("What goes in"), _("All of each lot that is ticked."))
        row = Row("whole")
        section.rows.append(row)
        field = forms.MultipleChoiceField(
            label=_("Taken whole"),
            choices=self._fitting,
            widget=forms.CheckboxSelectMultiple,
            required=False,
        )
        form.add(row, "lots", field)

    def _lay_row(self, form: EntryForm, row: Row) -> None:
        lots = [*self._fitting, *self._others]
        if lots:
            asked = _("choose a lot that fits") if self._fitting else _("something else")
            chosen = choice_field(_("Lot"), lots, prompt=asked, few=self._few)
            form.add(row, "lot", chosen)
        typed = CodeField(_("Or its code, typed or scanned"), slug=self.choices.actor.slug)
        if not lots:
            typed.label = _("Code of the lot")
            typed.help_text = _("Nothing that fits is on hand and free.")
        form.add(row, "code", typed)
        form.add(row, "mass", MassField(_("Mass taken")))
        form.add(row, "all", tick(_("All of it that is left")))
        how = choice_field(_("How the mass is known"), how_choices(), initial="weighed")
        form.add(row, "how", how, beside=True)

    @property
    def _fitting(self) -> list[tuple[str, str]]:
        """What fits, but for heels: a machine's heel is taken in by itself."""
        lots = self.choices.lots
        if self.stage.keeps_heel:
            lots = [lot for lot in lots if lot.form != HEEL]
        return self.choices.names_of(lots)

    @property
    def _others(self) -> list[tuple[str, list[tuple[str, str]]]]:
        """What can be drawn too, behind what usually is."""
        others = self.choices.names_of(self.choices.other_lots)
        return [(_("Something else, unusual here"), others)] if others else []

    @property
    def _few(self) -> bool | None:
        return False if self._others else None

    def _heel(self, form: EntryForm) -> list[DrawEntry]:
        """The heel in the chosen machine, which a run takes in whole."""
        name = form.values.get("place", {}).get("machine", "")
        if not (self.stage.keeps_heel and name):
            return []
        heels = [one.heel for one in self.choices.machines(self.stage.machine) if one.name == name]
        return [DrawEntry(code, all=True) for code in heels if code]

    def read(self, form: EntryForm) -> tuple[DrawEntry, ...]:
        draws = self._heel(form)
        if draws:
            form.point("/inputs/0", "", itself=f"machine_{self.stage.key}")
        scale = form.cleaned_data.get("scale") or ""
        for code in form.cleaned_data.get(WHOLE) or ():
            form.point(f"/inputs/{len(draws)}", "", itself=WHOLE)
            draws.append(DrawEntry(code, all=True, weighing=WeighingEntry("weighed", scale=scale)))
        for row in self.rows:
            value = {
                name: form.cleaned_data.get(f"{row.prefix}-{name}")
                for name in ("lot", "code", "mass", "all", "how")
            }
            if not any(value[name] for name in ("lot", "code", "mass", "all")):
                continue
            by_code = bool(value["code"])
            if not (value["code"] or value["lot"]):
                place = "lot" if "lot" in self._names(row) else "code"
                form.add_error(f"{row.prefix}-{place}", _("Say which lot this mass is from."))
                continue
            self._point(form, len(draws), row.prefix, by_code or "lot" not in self._names(row))
            weighing = WeighingEntry(value["how"] or "weighed", scale=scale)
            draws.append(
                DrawEntry(
                    value["code"] or value["lot"] or "", value["mass"], bool(value["all"]), weighing
                )
            )
        if WHOLE in form.fields:
            form.point("/inputs", "", itself=WHOLE)
        else:
            chosen = self._fitting or self._others
            form.point("/inputs", "inputs-0", itself="lot" if chosen else "code")
        return tuple(draws)

    @staticmethod
    def _names(row: Row) -> set[str]:
        return {name.rpartition("-")[2] for name in row.names}

    def _point(self, form: EntryForm, number: int, prefix: str, by_code: bool) -> None:
        lot = "code" if by_code else "lot"
        places = {"itself": lot, "lot": lot, "mass_mg": "mass", "all": "all", "weighing": "mass"}
        form.point(f"/inputs/{number}", prefix, **places)
