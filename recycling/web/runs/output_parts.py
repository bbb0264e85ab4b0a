"""Parts of a run's form for what comes out: outputs by role, and the heel."""

from __future__ import annotations

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from recycling.queries.balance.usual_figures import usual_here
from recycling.records.lots.mass_entries import HeelEntry, OutputEntry, SpoolEntry
from recycling.stages.declaration import (
    ALWAYS_GIVES,
    ANOTHER_POLYMER,
    HEEL,
    PRODUCT,
    RETURNED,
    SPOOLED,
    Output,
    Stage,
)
from recycling.web.forms.choices import Choices
from recycling.web.forms.fields import MassField, NumberField, Typed, WholeField, choice_field, tick
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.usual import lay_usual
from recycling.web.forms.weighing import TYPED, lay_how, lay_weighing, point_weighing, read_weighing
from recycling.web.templatetags.look import word_for

SAME, BACK = "same", "back"
"""Rows of outputs whose form is that of what goes in: worked on, and just as it was."""


class Outputs:
    """One row for each form the stage gives, and as many more as are asked for.

    Scrap, waste and what comes back as it was have a row once they are asked for.
    """

    key = "outputs"

    def __init__(self, choices: Choices, stage: Stage, form_in: str = "") -> None:
        self.choices, self.stage, self.form_in = choices, stage, form_in
        self.rows: list[tuple[Row, str]] = []

    @property
    def given(self) -> list[Output]:
        """What can come out here; a heel is given as the heel."""
        hidden = {HEEL} if self.stage.keeps_heel else set()
        return [output for output in self.stage.gives if output.form not in hidden]

    def lay(self, form: EntryForm) -> None:
        products = [output.form for output in self.given if output.role == PRODUCT]
        forms = products + ([SAME] if self.stage.same_form else [])
        forms += [output.form for output in self.given if output.role != PRODUCT]
        laid = [name.replace(" ", "_") for name in forms]
        if self.stage.works:
            more = [output.form for output in ALWAYS_GIVES if output.form not in forms]
            forms = [*forms, *more, BACK]
        known = {name.replace(" ", "_"): name for name in forms}
        keys = [key for key in form.row_keys("outputs", laid) if key in known]
        section = form.section("outputs", _("What comes out"))
        section.more += [
            (f"outputs:{key}", _("Another: %s") % self._title(name)) for key, name in known.items()
        ]
        self.rows = []
        usual = usual_here(self.choices.actor.workshop_id, self.stage.key)
        for place, key in enumerate(keys):
            name = known[key]
            row = Row(f"outputs-{place}", self._title(name), shape=name, folded=name != forms[0])
            section.rows.append(row)
            self.rows.append((row, known[key]))
            self._lay_row(form, row, known[key], usual.polymers.get(name, ""))
        named = {row.prefix: name for row, name in self.rows if name not in (SAME, BACK)}
        whole = not self.form_in
        lay_usual(form, self.choices, usual, self.stage, named, takes=whole)
        form.keep_rows("outputs", keys)

    def _title(self, name: str) -> str:
        if name == BACK:
            return _("Left over, back as it was")
        if name != SAME:
            return capfirst(word_for(name, "form"))
        return capfirst(word_for(self.form_in, "form")) if self.form_in else _("The same form")

    def _declared(self, name: str) -> Output:
        if name in (SAME, BACK):
            return Output(SAME, spool=name == SAME and self.form_in in SPOOLED)
        return self.stage.output(name) or Output(SAME)

    def _lay_row(self, form: EntryForm, row: Row, name: str, last: str) -> None:
        declared = self._declared(name)
        lay_weighing(form, row, self.choices.containers)
        other = declared.polymer == ANOTHER_POLYMER
        empty = "" if other else _("that of the run")
        named = self.choices.polymers
        polymer = choice_field(_("Polymer"), named, empty=empty, prompt=_("choose"), few=False)
        form.add(row, "polymer", polymer, beside=not other)
        if other and last:
            form.initial.setdefault(f"{row.prefix}-polymer", last)
        if declared.spool:
            wound = tick(_("Wound on a spool"), initial=self.stage.spools_by_default)
            form.add(row, "spool", wound)
            diameter = NumberField(_("Nominal diameter"), unit="mm", initial="1.75")
            form.add(row, "diameter_mm", diameter, beside=True)
            form.add(row, "tolerance_mm", NumberField(_("Tolerance"), unit="mm"), beside=True)
            length = NumberField(_("Length, if measured"), unit="m")
            form.add(row, "length_m", length, beside=True)
        if len(declared.roles) > 1:
            roles = [(role, word_for(role, "role")) for role in declared.roles]
            form.add(row, "role", choice_field(_("What becomes of it"), roles, initial=roles[0][0]))
        form.add(row, "colour", Typed(_("Colour")), beside=True)
        form.add(row, "count", WholeField(_("Number of pieces")), beside=True)
        lay_how(form, row, self.choices.sample_means)
        form.add(row, "note", Typed(_("Note on this one")), beside=True)

    def read(self, form: EntryForm) -> tuple[OutputEntry, ...]:
        outputs: list[OutputEntry] = []
        scale = form.cleaned_data.get("scale") or ""
        for row, name in self.rows:
            typed = (*TYPED, "colour", "count", "note", "length_m")
            if not any(form.typed(f"{row.prefix}-{one}") for one in typed):
                continue
            weighed = read_weighing(form, row, scale)
            made = name if name not in (SAME, BACK) else self._form_drawn(form)
            if weighed is None:
                continue
            if not made:
                form.add_error(None, _("Choose first what goes in: it comes out in the same form."))
                continue
            value = {
                one: form.cleaned_data.get(f"{row.prefix}-{one}")
                for one in ("polymer", "colour", "role", "count", "note", "spool")
            }
            spool = self._spool(form, row, weighed.weighing.tare_mg) if value["spool"] else None
            self._point(form, len(outputs), row)
            outputs.append(
                OutputEntry(
                    form=made,
                    mass_mg=weighed.mass_mg,
                    polymer=value["polymer"] or "",
                    colour=value["colour"] or "",
                    role=RETURNED if name == BACK else value["role"] or "",
                    spool=spool,
                    count=value["count"],
                    weighing=weighed.weighing,
                    note=value["note"] or "",
                )
            )
        form.point("/outputs", "outputs-0", itself="gross")
        return tuple(outputs)

    def _form_drawn(self, form: EntryForm) -> str:
        if self.form_in:
            return self.form_in
        drawn = (self.choices.lot(draw.lot) for draw in form.values.get("inputs", ()))
        return next((lot.form for lot in drawn if lot), "")

    @staticmethod
    def _spool(form: EntryForm, row: Row, tare_mg: int | None) -> SpoolEntry:
        number = {
            name: form.cleaned_data.get(f"{row.prefix}-{name}")
            for name in ("diameter_mm", "tolerance_mm", "length_m")
        }
        return SpoolEntry(
            number["diameter_mm"] or 1.75,
            number["tolerance_mm"],
            tare_mg or None,
            number["length_m"],
        )

    @staticmethod
    def _point(form: EntryForm, number: int, row: Row) -> None:
        pointer = f"/outputs/{number}"
        same = ("polymer", "colour", "role", "count", "note", "spool")
        form.point(pointer, row.prefix, itself="gross", **{one: one for one in same})
        spool = {f"spool__{one}": one for one in ("diameter_mm", "tolerance_mm", "length_m")}
        form.point(pointer, row.prefix, spool__tare_mg="tare", **spool)
        point_weighing(form, pointer, row.prefix)


class Heel:
    """What stays in the machine."""

    key = "heel"

    def __init__(self, choices: Choices) -> None:
        self.choices = choices

    def lay(self, form: EntryForm) -> None:
        hint = _("What is still in the barrel, hopper or chamber at the end; empty for nothing.")
        section = form.section("heel", _("Heel"), hint)
        row = Row("heel")
        section.rows.append(row)
        form.add(row, "mass", MassField(_("Mass left in the machine")))
        empty = _("that of the run")
        form.add(
            row,
            "polymer",
            choice_field(_("Polymer"), self.choices.polymers, empty=empty, few=False),
        )

    def read(self, form: EntryForm) -> HeelEntry | None:
        form.point("/heel", "heel", itself="mass", mass_mg="mass", polymer="polymer")
        mass_mg = form.cleaned_data.get("heel-mass")
        polymer = form.cleaned_data.get("heel-polymer") or ""
        if mass_mg is None and polymer:
            form.add_error("heel-mass", _("Give the mass of the heel too."))
        return None if mass_mg is None else HeelEntry(mass_mg, polymer)
