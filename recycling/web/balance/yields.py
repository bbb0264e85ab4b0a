"""Yields of a period: by group, over a chain of stages, over time, and where the mass went."""

from __future__ import annotations

from decimal import Decimal

from django.http import HttpRequest, HttpResponseBase
from django.utils.translation import gettext as _

from recycling.queries.balance.closures import CLOSING
from recycling.queries.balance.yields import GROUPS, yields
from recycling.records.actors import Actor
from recycling.records.balance.yields import LossStep, Ratio, YieldPoint, YieldRow, Yields
from recycling.tables.csv_text import covered_cells, covered_columns, kilograms
from recycling.web.balance.figures import control_figure, losses_figure, step_words
from recycling.web.book_words import stage_said
from recycling.web.pages.filters import days, filter_by, stage_choices
from recycling.web.pages.periods import period_context
from recycling.web.pages.read import csv_answer, csv_url, reading, show, wants_csv

ROWS = (
    "group",
    "runs",
    "product, kg",
    "target polymer in, kg",
    "of it again, kg",
    "yield",
    "standard uncertainty of yield",
    *covered_columns(of="yield"),
    "yield over first feed",
    "dry yield",
    "standard uncertainty of dry yield",
    *covered_columns(of="dry yield"),
    "runs with moisture",
)
POINTS = (
    "run",
    "ended at",
    "yield",
    "standard uncertainty",
    "95 % half-interval",
    "moving range",
    "out of control",
)
STEPS = ("stage", "what", "change, kg", "left, kg")


@reading
def yields_page(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    groups = {
        "stage": _("stage"),
        "machine": _("machine"),
        "operator": _("operator"),
        "polymer": _("polymer"),
        "source": _("source"),
        "month": _("month"),
    }
    by = filter_by(request, "by", _("Grouped by"), [(one, groups[one]) for one in GROUPS])
    stage = filter_by(request, "stage", _("Stage"), stage_choices(CLOSING))
    rules = filter_by(
        request, "rules", _("On the chart"), [("", _("limits")), ("all", _("limits and runs"))]
    )
    context = period_context(request, ())
    period = context["period"]
    machine, polymer = request.GET.get("machine", "")[:80], request.GET.get("polymer", "")[:20]
    found = yields(
        actor, period.start, period.end, by.value, stage.value, machine, polymer, bool(rules.value)
    )
    wanted = wants_csv(request)
    if wanted:
        return _csv(found, wanted, days(period))
    machines = [("", _("any machine")), *((one, one) for one in {*found.machines, machine} - {""})]
    polymers = [("", _("any polymer")), *((one, one) for one in {*found.polymers, polymer} - {""})]
    context["filters"] = (
        by,
        stage,
        filter_by(request, "machine", _("Machine"), [machines[0], *sorted(machines[1:])]),
        filter_by(request, "polymer", _("Polymer"), [polymers[0], *sorted(polymers[1:])]),
        rules,
    )
    return show(
        request,
        "balance/yields.html",
        "balance",
        **context,
        found=found,
        group=groups[by.value],
        stage=stage.value,
        rows=[(_group(found.by, row.key), row) for row in found.rows],
        chain=", ".join(stage_said(one) for one in found.chain_stages),
        chart=control_figure(found.chart, csv_url(request, "chart")) if found.chart else None,
        losses=losses_figure(found.losses, csv_url(request, "losses")),
        outside=[one for one in found.chart.points if one.signals] if found.chart else [],
        csv=csv_url(request, "rows"),
    )


def _group(by: str, key: str) -> str:
    if by == "stage":
        return stage_said(key)
    return key or _("not named")


def _csv(found: Yields, wanted: str, period: str) -> HttpResponseBase:
    if wanted == "chart" and found.chart:
        return csv_answer(f"yield-chart-{period}", POINTS, map(_point, found.chart.points))
    if wanted == "losses":
        return csv_answer(f"losses-{period}", STEPS, map(_step, found.losses))
    return csv_answer(f"yields-{period}", ROWS, map(_cells, found.rows))


def _share(value: float | None) -> Decimal | None:
    return None if value is None else Decimal(f"{value:.6f}")


def _sure(ratio: Ratio | None) -> tuple[object, ...]:
    if ratio is None:
        return None, None, *covered_cells(None, _share)
    return _share(ratio.share), _share(ratio.u), *covered_cells(ratio.covered, _share)


def _cells(row: YieldRow) -> tuple[object, ...]:
    return (
        row.key,
        row.runs,
        kilograms(row.product_mg),
        kilograms(row.target_mg),
        kilograms(row.again_mg),
        *_sure(row.first_pass),
        _sure(row.overall)[0],
        *_sure(row.dry),
        row.dry_runs,
    )


def _point(one: YieldPoint) -> tuple[object, ...]:
    signals = "; ".join(one.signals)
    return (
        one.run,
        one.ended_at,
        _share(one.share),
        _share(one.u),
        _share(one.half),
        _share(one.moving_range),
        signals,
    )


def _step(one: LossStep) -> tuple[object, ...]:
    return (one.stage, step_words(one), kilograms(one.change_mg), kilograms(one.left_mg))
