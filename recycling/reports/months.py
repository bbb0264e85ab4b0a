"""The months of a report side by side, and the way from collected to spooled step by step."""

from __future__ import annotations

from collections import defaultdict

from django.utils.translation import gettext as _

from recycling.calc.reports.diversion import Counter
from recycling.ledger.models import LOT, PROCESS
from recycling.queries.balance.loss_steps import SPOOL, STOCK, steps_from
from recycling.records.balance.yields import LossStep
from recycling.records.reports.documents import BARS, STEPS, Cell, Drawing, Section, Table
from recycling.reports.counters import Counts
from recycling.reports.movements import Movements
from recycling.reports.places import account_title, mass, said_mass, stage_title, words
from recycling.reports.statement import counter_title
from recycling.stages.declaration import (
    DISCARDED,
    LOSSES,
    RECEIVED,
    SIDE,
    UNACCOUNTED,
    WASTE,
)


def months_section(found: Movements, counts: Counts) -> Section:
    """Show the months side by side; they add up to the period exactly."""
    table = _months(found, counts)
    best = max(range(len(table.rows)), key=lambda place: int(table.rows[place][1] or 0))
    finding = _("Most was collected in {month}: {mass}.").format(
        month=table.rows[best][0], mass=said_mass(int(table.rows[best][1] or 0))
    )
    drawing = Drawing(
        "months",
        BARS,
        finding,
        _("For each month a bar for what was collected and one for good product."),
        table.key,
        "month",
        ("collected_mg", "good_product_mg"),
    )
    return Section(
        "months",
        _("Month by month"),
        tables=(table,),
        drawings=(drawing,) if len(table.rows) > 1 else (),
    )


def _months(found: Movements, counts: Counts) -> Table:
    moved: dict[tuple[int, str], int] = defaultdict(int)
    for one in found.inside:
        if one.account != LOT:
            moved[one.cut, "lost" if one.account in LOSSES else one.account] += one.mass_mg
    cuts = range(len(found.scope.cuts) - 1)
    masses = [
        [
            *(counts.by_month[counter, cut].mass_mg for counter in Counter),
            *(moved[cut, account] for account in (DISCARDED, "lost", UNACCOUNTED)),
        ]
        for cut in cuts
    ]
    rows: list[tuple[Cell, ...]] = [
        (found.scope.month(cut), *each) for cut, each in zip(cuts, masses, strict=True)
    ]
    columns = (
        words("month", _("Month")),
        *(
            mass(f"{counter.value.replace(' ', '_')}_mg", counter_title(counter))
            for counter in Counter
        ),
        mass("discarded_mg", _("Discarded")),
        mass("lost_mg", _("Measured losses")),
        mass("unaccounted_mg", _("Unaccounted")),
    )
    sums = [sum(column) for column in zip(*masses, strict=True)]
    return Table("months", _("The months side by side"), columns, tuple(rows), (_("All"), *sums))


def way_section(found: Movements) -> Section:
    """Step from what was collected in the period down to the spools made in it."""
    steps = way_steps(found)
    rows: list[tuple[Cell, ...]] = [
        (_label(one), one.change_mg, one.left_mg, _role(one)) for one in steps
    ]
    table = Table(
        "way",
        _("From collected to spooled"),
        (
            words("step", _("Step")),
            mass("change_mg", _("Change")),
            mass("left_mg", _("Left")),
            words("role", _("Role")),
        ),
        tuple(rows),
    )
    finding = _("{collected} was collected; the period's runs made {spooled} of spools.")
    drawing = Drawing(
        "way",
        STEPS,
        finding.format(collected=said_mass(steps[0].left_mg), spooled=said_mass(steps[-1].left_mg)),
        _("A waterfall: each step takes off what left the way at a stage, or adds what came in."),
        table.key,
        "step",
        ("change_mg", "left_mg"),
        style="role",
    )
    text = _(
        "Stages work on what was there as well as on what came in, so a period may make more or"
        " less than it collects: the steps for stock say how much."
    )
    return Section("way", _("From collected to spooled"), (text,), (), (table,), (drawing,))


def way_steps(found: Movements) -> tuple[LossStep, ...]:
    """Work the steps out from what the report is about."""
    received: dict[str, int] = defaultdict(int)
    made: dict[tuple[str, str], int] = defaultdict(int)
    moved: dict[tuple[str, str], int] = defaultdict(int)
    inside: dict[str, int] = defaultdict(int)
    for one in found.inside:
        run = found.runs[one.run_id]
        inside[run.stage] -= one.mass_mg
        if one.account == RECEIVED:
            received[run.origin_kind] -= one.mass_mg
        if one.account != LOT:
            made[run.stage, one.account] += one.mass_mg
            continue
        lot = found.lots[one.lot_id]
        what = SPOOL if lot.is_spool else lot.role if lot.role in (SIDE, WASTE) else STOCK
        (made if lot.maker == one.run_id else moved)[run.stage, what] += one.mass_mg
    for stage, mass_mg in inside.items():
        moved[stage, PROCESS] += mass_mg
    collected_mg = received.pop("collection", 0)
    came = [("", kind, -mass_mg) for kind, mass_mg in sorted(received.items()) if mass_mg]
    return steps_from(collected_mg, came, made, moved)


def _label(step: LossStep) -> str:
    names = {
        "collected": _("Collected"),
        "spooled": _("Spooled"),
        "purchase": _("Bought"),
        "opening": _("Counted in"),
        "gone from stock": _("Left from stock"),
        "taken back": _("Taken back from the side"),
        "into stock": _("Into stock and open runs"),
        SIDE: _("Side streams"),
        WASTE: _("Waste"),
    }
    what = names.get(step.what) or account_title(step.what)
    if not step.stage:
        return what
    return _("{stage}: {what}").format(stage=stage_title(step.stage), what=what)


def _role(step: LossStep) -> str:
    if step.total:
        return "product"
    if step.what in (SIDE, WASTE):
        return step.what
    return "loss" if step.what in (*LOSSES, UNACCOUNTED) else "again"
