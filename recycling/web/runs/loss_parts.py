"""Part of a run's form for what it lost: a mass, or gross and tare on a scale, and how."""

from __future__ import annotations

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from recycling.records.lots.mass_entries import LossEntry, WeighingEntry
from recycling.stages.declaration import Stage
from recycling.web.book_words import said
from recycling.web.forms.choices import Choices
from recycling.web.forms.fields import MassField, Typed, choice_field, tick
from recycling.web.forms.forms import EntryForm, Row


class Losses:
    """One row for each loss account of the stage."""

    key = "losses"

    def __init__(self, choices: Choices, stage: Stage) -> None:
        self.choices, self.stage = choices, stage

    def lay(self, form: EntryForm) -> None:
        if not self.stage.losses:
            return
        hint = _("Only what was measured or estimated; the rest is shown as unaccounted.")
        section = form.section("losses", _("Losses"), hint)
        scales = [(one.name, one.name) for one in self.choices.scale_records]
        for loss in self.stage.losses:
            title = capfirst(said(loss.account, "account"))
            row = Row(f"losses-{loss.account}")
            section.rows.append(row)
            form.add(row, "mass", MassField(title))
            if loss.gain:
                form.add(row, "gain", tick(_("It was taken up: more came out than went in")))
            how = Typed(_("How it was measured or estimated"))
            form.add(row, "how", how, beside=True)
            form.add(row, "read", MassField(_("Gross, as read")), beside=True)
            form.add(row, "empty", MassField(_("Tare, as read"), zero=True), beside=True)
            if scales:
                scale = choice_field(_("Scale"), scales, empty=_("not named"), few=False)
                form.add(row, "scale", scale, beside=True)

    def read(self, form: EntryForm) -> tuple[LossEntry, ...]:
        losses: list[LossEntry] = []
        for loss in self.stage.losses:
            prefix = f"losses-{loss.account}"
            found = self._read(form, prefix)
            if found is None:
                continue
            mass_mg, weighing = found
            places = {"itself": "mass", "account": "mass", "mass_mg": "mass", "how": "how"}
            read = {"weighing__gross_mg": "read", "weighing__tare_mg": "empty"}
            pointer = f"/losses/{len(losses)}"
            form.point(pointer, prefix, weighing__scale="scale", **places, **read)
            sign = -1 if form.cleaned_data.get(f"{prefix}-gain") else 1
            how = form.cleaned_data.get(f"{prefix}-how") or ""
            losses.append(LossEntry(loss.account, sign * mass_mg, how, weighing))
        return tuple(losses)

    @staticmethod
    def _read(form: EntryForm, prefix: str) -> tuple[int, WeighingEntry] | None:
        names = ("mass", "read", "empty", "scale", "how")
        given = {name: form.cleaned_data.get(f"{prefix}-{name}") for name in names}
        mass_mg, gross_mg, tare_mg = given["mass"], given["read"], given["empty"]
        if gross_mg is not None and gross_mg <= (tare_mg or 0):
            form.add_error(f"{prefix}-empty", _("The tare is not below the gross mass."))
            return None
        if mass_mg is None and gross_mg is not None:
            mass_mg = gross_mg - (tare_mg or 0)
        if mass_mg is None:
            if given["how"] or tare_mg is not None:
                form.add_error(f"{prefix}-mass", _("Give the mass of this loss too."))
            return None
        raw = form.typed(f"{prefix}-read")[:120]
        scale = given["scale"] or (form.cleaned_data.get("scale") or "" if gross_mg else "")
        return mass_mg, WeighingEntry(
            gross_mg=gross_mg, tare_mg=tare_mg if gross_mg else None, scale=scale, raw=raw
        )
