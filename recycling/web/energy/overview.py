"""Energy of a period: each stage, its base load, machines and files."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.figures.scatter_svg import Scatter, scatter_svg
from recycling.queries.energy.lots import lot_energy
from recycling.queries.energy.run_panel import run_beside
from recycling.queries.energy.stages import energy_of_period, runs_energy
from recycling.queries.setup.register import machines
from recycling.records.actors import Actor
from recycling.records.balance.covered import Covered
from recycling.records.energy.figures import LotEnergy, LotEnergyStep, RunEnergyRecord
from recycling.records.energy.stages import BaseLoadRecord
from recycling.tables.csv_text import covered_cells, covered_columns, kilograms
from recycling.web.book_words import stage_said
from recycling.web.energy.previews import figure, sure
from recycling.web.energy.words import method_said
from recycling.web.pages.figures import Figure
from recycling.web.pages.periods import asked_period, period_context
from recycling.web.pages.read import Choice, csv_answer, csv_url, reading, wants_csv

RUN_COLUMNS = (
    "run",
    "stage",
    "machine",
    "energy, kWh",
    "standard uncertainty, kWh",
    *covered_columns("kWh"),
    "in its own time, kWh",
    "warm-up, purge and standby, kWh",
    "from",
    "coverage",
    "product, kg",
    "kWh/kg",
    "least possible, kWh",
    "cost",
    "currency",
    "carbon, kg CO2e",
)


LOT_COLUMNS = (
    "run",
    "stage",
    "from",
    "energy, kWh",
    "standard uncertainty, kWh",
    *covered_columns("kWh"),
    "share that the lot carries",
)


@reading
def energy(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    """Show what each stage took in a period."""
    period = asked_period(request)
    if wants_csv(request):
        rows = runs_energy(actor, period.start, period.end)
        return csv_answer(f"energy-{actor.slug}", RUN_COLUMNS, map(_cells, rows))
    found = energy_of_period(actor, period.start, period.end, request.GET.get("stage", ""))
    shown = {
        "nav": "energy",
        **period_context(request),
        "stages": found.stages,
        "choices": [Choice(one.stage, stage_said(one.stage)) for one in found.stages],
        "stage": found.stage,
        "line": found.line,
        "figure": _scatter(found.line) if found.line and found.line.points else None,
        "machines": machines(actor),
        "csv": csv_url(request),
        "may_manage": actor.may("manage"),
    }
    return render(request, "energy/energy.html", shown, status=shown["status"])


def _cells(row: RunEnergyRecord) -> tuple[object, ...]:
    return (
        row.run,
        row.stage,
        row.machine,
        f"{row.kwh:.6f}" if row.method else "",
        f"{row.u_kwh:.6f}" if row.method else "",
        *covered_cells(row.covered if row.method else None, "{:.6f}".format),
        f"{row.own_kwh:.6f}" if row.method else "",
        f"{row.overhead_kwh:.6f}" if row.method else "",
        row.method,
        f"{row.coverage:.4f}",
        kilograms(row.product_mg),
        "" if row.kwh_per_kg is None else f"{row.kwh_per_kg:.6f}",
        "" if row.minimum_kwh is None else f"{row.minimum_kwh:.6f}",
        "" if row.cost is None else f"{row.cost:.4f}",
        row.cost_currency,
        "" if row.carbon_kg is None else f"{row.carbon_kg:.6f}",
    )


def _scatter(line: BaseLoadRecord) -> Figure:
    """Draw a stage's weeks and the line through them."""
    title = _("%(stage)s: energy over product, week by week") % {"stage": stage_said(line.stage)}
    finding = line_finding(line)
    straight = None
    if line.base_kwh is not None and line.slope_kwh_per_kg is not None:
        straight = (line.base_kwh, line.slope_kwh_per_kg)
    points = tuple((one.mass_kg, one.kwh) for one in line.points)
    drawn = Scatter(title, finding, _("kg of product"), "kWh", points, straight)
    return Figure(
        key="base-load",
        title=title,
        finding=finding,
        svg=scatter_svg(drawn, "base-load"),
        columns=(_("Week"), _("Product, kg"), _("Energy, kWh")),
        rows=tuple((one.week, figure(one.mass_kg), figure(one.kwh)) for one in line.points),
    )


def line_finding(line: BaseLoadRecord) -> str:
    """Say what the line through a stage's weeks means, and how sure it is."""
    left = ""
    if line.left_out:
        words = ngettext(
            "%(count)d week is left out: logs cover under 90 %% of its runs.",
            "%(count)d weeks are left out: logs cover under 90 %% of their runs.",
            line.left_out,
        )
        left = " " + words % {"count": line.left_out}
    if line.base_kwh is None or line.slope_kwh_per_kg is None:
        return _("No line can be drawn yet: %(why)s.") % {"why": line.why_not} + left
    said = {
        "base": figure(line.base_kwh, 2),
        "half_base": figure(line.half_base_kwh, 2),
        "slope": figure(line.slope_kwh_per_kg, 3),
        "half_slope": figure(line.half_slope_kwh_per_kg, 3),
    }
    text = _(
        "A week takes %(base)s ± %(half_base)s kWh anyway, and %(slope)s ± %(half_slope)s kWh"
        " for each kilogram (± covers 95 %%)."
    )
    return text % said + left


@reading
def lot(request: HttpRequest, actor: Actor, code: str) -> HttpResponseBase:
    """Show the energy that a lot carries, run by run."""
    record = lot_energy(actor, code)
    if wants_csv(request):
        rows = map(_step_cells, record.steps)
        return csv_answer(f"energy-{code}", LOT_COLUMNS, rows)
    shown = {
        "nav": "spools" if record.form == "filament" else "stock",
        "energy": record,
        "finding": _lot_finding(record),
        "csv": csv_url(request),
        "crumbs": [(code, reverse("lot", args=[actor.slug, code])), (_("Energy"), "")],
    }
    return render(request, "energy/lot.html", shown)


def _step_cells(step: LotEnergyStep) -> tuple[object, ...]:
    sure = covered_cells(step.covered, "{:.6f}".format)
    figures = f"{step.kwh:.6f}", f"{step.u_kwh:.6f}", *sure, f"{step.share:.6f}"
    return (step.run, step.stage, step.method, *figures)


def _half(one: Covered | None) -> float | None:
    return one.half if one else None


def _lot_finding(record: LotEnergy) -> str:
    if not record.carries:
        return _("Waste carries no energy: all of it is loaded on product and what goes round.")
    if record.kwh_per_kg is None:
        return _("It has no mass.")
    said = {
        "kwh": sure(record.kwh, _half(record.covered)),
        "each": sure(record.kwh_per_kg, _half(record.covered_per_kg)),
    }
    text = _("It carries %(kwh)s kWh, %(each)s kWh for each kilogram.") % said
    if record.unlogged:
        words = ngettext(
            "It is a lower bound: of %(count)d run on its way no log of energy speaks.",
            "It is a lower bound: of %(count)d runs on its way no log of energy speaks.",
            record.unlogged,
        )
        text += " " + words % {"count": record.unlogged}
    return text


@reading
def run(request: HttpRequest, actor: Actor, code: str) -> HttpResponseBase:
    """Show the energy of a run and where each figure is from; a part of it for the run's page."""
    beside = run_beside(actor, code)
    record = beside.energy
    run_url = reverse("run", args=[actor.slug, code])
    shown = {"beside": beside, "run_url": run_url}
    if request.GET.get("part"):
        return render(request, "energy/run_part.html", shown)
    shown |= {
        "nav": "runs",
        "energy": record,
        "code": code,
        "sources": [(method_said(one.method), one) for one in record.sources] if record else (),
        "crumbs": [
            (_("Runs"), reverse("runs", args=[actor.slug])),
            (code, run_url),
            (_("Energy"), ""),
        ],
    }
    return render(request, "energy/run.html", shown)
