"""A mass from the scale: gross and tare, or a container's known tare, or the net mass itself."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from recycling.calc.balance.reading_steps import reading_steps
from recycling.records.lots.mass_entries import WeighingEntry
from recycling.records.setup.register import ContainerRecord
from recycling.web.forms.choices import Choices
from recycling.web.forms.fields import MassField, choice_field
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.templatetags.look import mass_text
from shared.units import show_mass

TYPED = ("gross", "tare", "net")
EMPTY: Mapping[str, float] = {}
NO_SCALE = ""
"""Stands for no scale in particular: the coarsest one of the workshop is assumed."""


def how_choices() -> list[tuple[str, str]]:
    return [
        ("weighed", _("weighed")),
        ("counted", _("counted: pieces times a mean mass")),
        ("estimated", _("estimated")),
    ]


@dataclass(frozen=True)
class Weighed:
    """A net mass in mg, and how it became known."""

    mass_mg: int
    weighing: WeighingEntry


def lay_scale(form: EntryForm, row: Row, choices: Choices) -> None:
    """Ask for the scale, and let the page know how sure its readings are."""
    scales = choices.scale_records
    if not scales:
        return
    names = [(one.name, one.name) for one in scales]
    form.add(row, "scale", choice_field(_("Scale"), names, empty=_("none"), few=False))
    steps = {one.name: reading_steps(one.interval_mg, one.accuracy_class) for one in scales}
    coarsest = max(scales, key=lambda one: (one.interval_mg, one.name))
    form.scale_steps = {
        name: [[None if load == math.inf else load, u_mg] for load, u_mg in listed]
        for name, listed in {**steps, NO_SCALE: steps[coarsest.name]}.items()
    }


def lay_weighing(form: EntryForm, row: Row, containers: list[ContainerRecord]) -> None:
    """Put gross, tare and net into a row, and the known containers beside them."""
    row.weighing = True
    form.add(row, "gross", MassField(_("Gross")))
    form.add(row, "tare", MassField(_("Tare"), zero=True))
    tare = form.fields[f"{row.prefix}-tare"]
    tare.containers = containers  # type: ignore[attr-defined]
    tare.taps = [  # type: ignore[attr-defined]
        {"label": one.name, "mass_text": show_mass(one.tare_mg)} for one in containers
    ]
    if containers:
        names = [(str(one.id), f"{one.name}, {show_mass(one.tare_mg)}") for one in containers]
        field = choice_field(
            _("Container"), names, empty=_("none of these, or its tare is typed"), few=False
        )
        form.add(row, "container", field)
    form.add(row, "net", MassField(_("Or the net mass")))


def lay_how(form: EntryForm, row: Row, sample_means: Mapping[str, float] = EMPTY) -> None:
    """Ask beside the row how its mass became known; where pieces were counted, by which sample."""
    how = choice_field(_("How the mass is known"), how_choices(), initial="weighed")
    form.add(row, "how", how, beside=True)
    if sample_means:
        names = [(name, f"{name}, {mass_text(round(mg))}") for name, mg in sample_means.items()]
        hint = _("For counted pieces: without a mass, it is the count times the sample's mean.")
        field = choice_field(
            _("Sample"), names, empty=_("none of these"), few=False, help_text=hint
        )
        field.means = sample_means  # type: ignore[attr-defined]
        form.add(row, "sample", field, beside=True)


def read_weighing(form: EntryForm, row: Row, scale: str) -> Weighed | None:
    """Read a row's mass; None, with an error at the field, when it cannot be made out."""
    given = {name: form.cleaned_data.get(f"{row.prefix}-{name}") for name in TYPED}
    gross, tare, net = given["gross"], given["tare"], given["net"]
    how = form.cleaned_data.get(f"{row.prefix}-how") or "weighed"
    sample = form.cleaned_data.get(f"{row.prefix}-sample") or "" if how == "counted" else ""
    if sample and gross is None and net is None:
        net = _counted(form, row, sample)
    if tare is None:
        tare = _known_tare(form, row)
    if gross is None:
        if net is not None:
            return Weighed(net, WeighingEntry(how=how, scale=scale, sample=sample))
        form.add_error(f"{row.prefix}-gross", _("Give gross and tare, or the net mass."))
        return None
    if gross <= (tare or 0):
        form.add_error(f"{row.prefix}-tare", _("The tare is not below the gross mass."))
        return None
    mass_mg = gross - (tare or 0) if net is None else net
    raw = form.typed(f"{row.prefix}-gross")[:120]
    return Weighed(mass_mg, WeighingEntry(how, gross, tare, scale, sample=sample, raw=raw))


def _counted(form: EntryForm, row: Row, name: str) -> int | None:
    """Give the mass of counted pieces from a sample's mean, in whole milligrams."""
    count = form.cleaned_data.get(f"{row.prefix}-count")
    mean_mg = getattr(form.fields.get(f"{row.prefix}-sample"), "means", EMPTY).get(name)
    return round(count * mean_mg) if count and mean_mg else None


def _known_tare(form: EntryForm, row: Row) -> int | None:
    chosen = form.cleaned_data.get(f"{row.prefix}-container") or ""
    containers = getattr(form.fields[f"{row.prefix}-tare"], "containers", [])
    return next((one.tare_mg for one in containers if str(one.id) == chosen), None)


def point_weighing(form: EntryForm, pointer: str, prefix: str) -> None:
    """Note which fields a problem of a mass belongs to."""
    typed_gross = form.typed(f"{prefix}-gross")
    form.point(
        pointer,
        prefix,
        mass_mg="gross" if typed_gross else "net",
        weighing="gross",
        weighing__gross_mg="gross",
        weighing__tare_mg="tare",
        weighing__how="how",
    )
