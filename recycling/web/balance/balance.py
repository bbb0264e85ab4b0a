"""The balance of a period: each stage, a drawing of the flows, and the statement."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.utils.translation import gettext as _

from recycling.queries.balance.balance import flows as flows_query
from recycling.queries.balance.balance import stages_balance, statement
from recycling.queries.balance.months import months
from recycling.records.actors import Actor
from recycling.records.balance.balance import Flow, StageBalance, Statement
from recycling.stages import MAKING_FILAMENT
from recycling.stages.declaration import BORDERS, LOSSES, RECEIVED, ROLES, UNACCOUNTED
from recycling.tables.csv_text import kilograms
from recycling.web.balance.months import COLUMNS as MONTH_COLUMNS
from recycling.web.balance.months import month_cells, months_figure
from recycling.web.book_words import said
from recycling.web.pages.figures import flows_finding, period_sankey
from recycling.web.pages.periods import Period, asked_period, period_context
from recycling.web.pages.read import Choice, Filter, csv_answer, csv_url, reading, show, wants_csv

LOSS_COLUMNS = tuple(name for name in BORDERS if name not in (RECEIVED, UNACCOUNTED))
STAGE_COLUMNS = (
    "stage",
    "runs",
    "inputs, kg",
    *(f"{name}, kg" for name in ROLES.values()),
    *(f"{account}, kg" for account in LOSS_COLUMNS),
    "unaccounted, kg",
    "yield",
)
STATEMENT_COLUMNS = (
    "polymer",
    "opening, kg",
    "received, kg",
    "reclassified, kg",
    "dispatched, kg",
    "discarded, kg",
    *(f"{account}, kg" for account in LOSSES),
    "unaccounted, kg",
    "closing, kg",
    "in process, kg",
    "difference, kg",
)
FLOW_COLUMNS = ("from", "to", "role", "mass, kg")


@reading
def balance(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    period, polymer = asked_period(request), request.GET.get("polymer", "")[:20]
    wanted = wants_csv(request)
    if wanted:
        return _csv(actor, period, polymer, wanted)
    stages = stages_balance(actor, period.start, period.end, polymer)
    *each, whole = statement(actor, period.start, period.end)
    statements = [whole, *each]
    moved = flows_query(actor, period.start, period.end)
    context: dict[str, Any] = {
        **period_context(request, [_polymers(statements, polymer)]),
        "stages": _stage_rows(stages),
        "roles": [key for key in ROLES if any(key in stage.outputs_mg for stage in stages)],
        "accounts": _accounts(stages),
        "statements": statements,
        "whole": whole,
        "lines": _lines(statements),
        "closes": not any(one.difference_mg for one in statements),
        "figure": _figure(request, moved, whole, stages) if moved else None,
        "months": months_figure(
            months(actor, period.start, period.end), csv_url(request, "months")
        ),
        "stages_csv": csv_url(request, "stages"),
        "statement_csv": csv_url(request, "statement"),
    }
    return show(request, "balance/balance.html", "balance", **context)


def _polymers(statements: list[Statement], asked: str) -> Filter:
    known = {one.polymer for one in statements} | {asked}
    choices = tuple(Choice(one, one or _("all polymers")) for one in sorted(known | {""}))
    return Filter("polymer", _("Polymer of the runs"), asked, choices)


def _accounts(stages: Iterable[StageBalance]) -> list[str]:
    used = {account for stage in stages for account in stage.losses_mg}
    return [account for account in LOSS_COLUMNS if account in used]


def _stage_rows(stages: list[StageBalance]) -> list[dict[str, object]]:
    roles = [key for key in ROLES if any(key in stage.outputs_mg for stage in stages)]
    accounts = _accounts(stages)
    return [
        {
            "stage": stage,
            "outputs": [stage.outputs_mg.get(role) for role in roles],
            "losses": [stage.losses_mg.get(account) for account in accounts],
            "gain": stage.unaccounted_mg < 0,
        }
        for stage in stages
    ]


@dataclass(frozen=True)
class Line:
    """A line of the statement: its sign, its words, and a figure in mg for each polymer."""

    sign: str
    label: str
    masses_mg: tuple[int, ...]
    kind: str = ""


def _lines(statements: list[Statement]) -> list[Line]:
    """Write the statement as lines that add up from the top."""

    def line(sign: str, label: str, of: Callable[[Statement], int], kind: str = "") -> Line:
        return Line(sign, label, tuple(of(one) for one in statements), kind)

    def lost_to(account: str) -> Callable[[Statement], int]:
        return lambda one: one.losses_mg.get(account, 0)

    lost = [
        line("−", said(account, "account"), lost_to(account))
        for account in LOSSES
        if any(one.losses_mg.get(account) for one in statements)
    ]
    return [
        line("", _("opening stock and work in process"), lambda one: one.opening_mg, "subtotal"),
        line("+", said("received", "account"), lambda one: one.received_mg),
        line("+", _("became another polymer, or came from one"), lambda one: one.reclassified_mg),
        line("−", said("dispatched", "account"), lambda one: one.dispatched_mg),
        line("−", said("discarded", "account"), lambda one: one.discarded_mg),
        *lost,
        line("−", said("unaccounted", "account"), lambda one: one.unaccounted_mg, "unaccounted"),
        line(
            "=",
            _("closing stock and work in process"),
            lambda one: one.closing_mg + one.in_process_mg,
            "total",
        ),
        line("", _("of it in stock"), lambda one: one.closing_mg),
        line("", _("of it inside open runs"), lambda one: one.in_process_mg),
        line("", _("difference"), lambda one: one.difference_mg, "subtotal"),
    ]


def _figure(
    request: HttpRequest, moved: list[Flow], whole: Statement, stages: list[StageBalance]
) -> object:
    made = [one for one in stages if one.stage in MAKING_FILAMENT]
    finding = flows_finding(whole, sum(one.outputs_mg.get("product", 0) for one in made))
    return period_sankey(moved, _("Where the mass went"), finding, csv_url(request, "flows"))


def _csv(actor: Actor, period: Period, polymer: str, wanted: str) -> HttpResponseBase:
    days = f"{period.first.isoformat()}-{period.last.isoformat()}"
    if wanted == "statement":
        rows = map(_statement_cells, statement(actor, period.start, period.end))
        return csv_answer(f"statement-{days}", STATEMENT_COLUMNS, rows)
    if wanted == "flows":
        moved = flows_query(actor, period.start, period.end)
        cells = ((f.source, f.target, f.role, kilograms(f.mass_mg)) for f in moved)
        return csv_answer(f"flows-{days}", FLOW_COLUMNS, cells)
    if wanted == "months":
        rows = map(month_cells, months(actor, period.start, period.end))
        return csv_answer(f"months-{days}", MONTH_COLUMNS, rows)
    stages = stages_balance(actor, period.start, period.end, polymer)
    return csv_answer(f"stages-{days}", STAGE_COLUMNS, map(_stage_cells, stages))


def _stage_cells(stage: StageBalance) -> tuple[object, ...]:
    return (
        stage.stage,
        stage.runs,
        kilograms(stage.inputs_mg),
        *(kilograms(stage.outputs_mg.get(role, 0)) for role in ROLES),
        *(kilograms(stage.losses_mg.get(account, 0)) for account in LOSS_COLUMNS),
        kilograms(stage.unaccounted_mg),
        None if stage.stage_yield is None else Decimal(f"{stage.stage_yield:.6f}"),
    )


def _statement_cells(one: Statement) -> tuple[object, ...]:
    return (
        one.polymer or "all",
        kilograms(one.opening_mg),
        kilograms(one.received_mg),
        kilograms(one.reclassified_mg),
        kilograms(one.dispatched_mg),
        kilograms(one.discarded_mg),
        *(kilograms(one.losses_mg.get(account, 0)) for account in LOSSES),
        kilograms(one.unaccounted_mg),
        kilograms(one.closing_mg),
        kilograms(one.in_process_mg),
        kilograms(one.difference_mg),
    )
