"""Weighing: how masses became known, which to doubt, and samples of bottles that were weighed."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.queries.balance.weighings import counted_mass_of, weighings
from recycling.queries.setup.register import scales
from recycling.records.actors import Actor
from recycling.records.balance.known_masses import CountedMass, KnownMass, SampleEntry, SampleRecord
from recycling.services.balance.samples import sample_add
from recycling.tables.csv_text import covered_cells, covered_columns, kilograms, mg_as_kilograms
from recycling.web.forms.fields import DayField, LinesField, Typed, choice_field
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.pages.filters import days
from recycling.web.pages.periods import period_context
from recycling.web.pages.read import csv_answer, csv_url, link, reading, show, wants_csv
from recycling.web.templatetags.look import mass_text
from shared.errors import Refused
from shared.units import parse_mass

COLUMNS = (
    "run",
    "side",
    "of",
    "mass, kg",
    "standard uncertainty, kg",
    *covered_columns("kg"),
    "scale",
    "doubt",
)
MOST_COUNTED = 10_000_000


@reading
def weighing_page(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    context = period_context(request, ())
    period = context["period"]
    found = weighings(actor, period.start, period.end)
    if wants_csv(request):
        return csv_answer(f"doubtful-{days(period)}", COLUMNS, map(_cells, found.doubtful))
    may = actor.may("correct")
    return show(
        request,
        "balance/weighing.html",
        "balance",
        **context,
        found=found,
        doubtful=[
            (one, link("posting-correct", actor, one.posting) if may else "")
            for one in found.doubtful
        ],
        csv=csv_url(request),
        sample_url=link("sample-new", actor) if actor.may("record") else "",
        counted=_counted(request, actor, found.samples),
        asked={name: request.GET.get(name, "") for name in ("sample", "count")},
    )


def _counted(
    request: HttpRequest, actor: Actor, samples: tuple[SampleRecord, ...]
) -> CountedMass | None:
    """Say what a number of counted bottles weighs, from one of the samples."""
    typed = request.GET.get("count", "")
    sample = next((one for one in samples if str(one.id) == request.GET.get("sample")), None)
    if sample is None or not (typed.isascii() and typed.isdigit()):
        return None
    count = int(typed[:9])
    return counted_mass_of(actor, sample, count) if 0 < count < MOST_COUNTED else None


def _cells(one: KnownMass) -> tuple[object, ...]:
    doubts = "; ".join(doubt.text for doubt in one.doubts)
    mass, u = kilograms(one.mass_mg), kilograms(round(one.u_mg))
    known = one.run, one.side, one.lot or one.account, mass, u
    return (*known, *covered_cells(one.covered, mg_as_kilograms), one.scale, doubts)


class SampleFields:
    """The fields of a sample: its name, and the mass of each bottle on a line of its own."""

    key = "sample"

    def __init__(self, names: list[str]) -> None:
        self.names = names

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("sample", _("The bottles")).rows.append(row)
        form.add(row, "name", Typed(_("What bottles"), help_text=_("As “half litre, clear”.")))
        hint = _("One line for each bottle, with its unit: 24.8 g. At least two; ten say more.")
        form.add(row, "masses", LinesField(_("Mass of each bottle"), help_text=hint))
        named = [(name, name) for name in self.names]
        form.add(row, "scale", choice_field(_("Scale"), named, empty=_("not known"), few=False))
        form.add(row, "taken_date", DayField(_("Weighed on"), help_text=_("Empty for today.")))
        form.add(row, "note", LinesField(_("Note")))

    def read(self, form: EntryForm) -> SampleEntry:
        masses = []
        lines = [line.strip() for line in str(form.cleaned_data.get("masses") or "").splitlines()]
        for line in filter(None, lines):
            try:
                masses.append(parse_mass(line))
            except Refused as refused:
                form.add_error("masses", refused.problems[0].detail)
        form.point("/name", "", itself="name")
        form.point("/masses_mg", "", itself="masses")
        form.point("/scale", "", itself="scale")
        form.point("/taken_date", "", itself="taken_date")
        form.point("/note", "", itself="note")
        return SampleEntry(
            form.cleaned_data.get("name") or "",
            tuple(masses),
            form.cleaned_data.get("scale") or "",
            form.cleaned_data.get("taken_date"),
            form.cleaned_data.get("note") or "",
        )


@recording("record")
def sample_new(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Weigh a sample of bottles, so that others need only be counted."""
    back = reverse("weighing", args=[actor.slug])
    title = _("A sample of bottles")

    def saved(result: int, values: Any) -> Saved:
        entry = values["sample"]
        mean = round(sum(entry.masses_mg) / len(entry.masses_mg))
        said = ngettext(
            "%(count)d bottle; it weighs %(mean)s.",
            "%(count)d bottles; one weighs %(mean)s on average.",
            len(entry.masses_mg),
        )
        text = said % {
            "count": len(entry.masses_mg),
            "mean": mass_text(mean),
        }
        see = Step(_("See the samples"), f"{back}?sample={result}#samples", primary=True)
        return Saved(entry.name, text, (see,), shape="bottles", url=back)

    sheet = Sheet(
        title,
        _("Keep the sample"),
        [SampleFields([one.name for one in scales(actor)])],
        lambda acting, values: sample_add(acting, values["sample"]),
        saved,
        context={
            "crumbs": [(_("Weighing"), back), (title, "")],
            "lede": _("Weigh some bottles one by one. Others of their kind need only be counted."),
        },
        nav="balance",
    )
    return enter(request, actor, sheet)
