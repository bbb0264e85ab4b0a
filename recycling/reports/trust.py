"""What a report's figures rest on: weighings, scales, how runs close, open runs."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.calc.balance.closure import closure, uncertainty
from recycling.calc.balance.known_masses import BASES, left_over
from recycling.calc.balance.usual_loss import STATES, band
from recycling.models import Run, Scale
from recycling.queries.balance.closures import CLOSING
from recycling.queries.balance.covered import covered
from recycling.queries.balance.earlier_runs import EarlierRuns, Ending
from recycling.records.reports.documents import (
    DAY,
    MASS,
    NUMBER,
    Cell,
    Column,
    Fact,
    Section,
    Table,
)
from recycling.reports.counted import Sure, Surely
from recycling.reports.covered import covered_cells, covered_columns
from recycling.reports.movements import Movements
from recycling.reports.places import mass, stage_title, words
from recycling.reports.runs import of_its_runs
from recycling.stages.declaration import UNACCOUNTED
from shared.measured import Measured

HOW_TITLES = ("weighed", "counted", "estimated", "by book")


def trust_section(found: Movements, sure: Sure, corrected: bool) -> Section:
    """Show how masses became known, when each scale was last checked, and how runs close.

    In a report about one giver, only of the runs that its material went through. `corrected` says
    whether a section of corrections follows.
    """
    sure = of_its_runs(found, sure)
    states = _states(found, sure)
    listed = [states[state] for state in STATES]
    open_runs = _open_runs(found)
    text = [
        _(
            "The uncertainty of a mass follows from its scale's class and step in service (OIML"
            " R 76-1), from the weighed sample of a count, or from what was stated. What several"
            " masses share counts as shared: a scale's error, taken as one part of its limit in"
            " the whole period, the tare of a container, the mean of a sample, a rule of thumb."
            " Each ± covers 95 % of what the true value may be: Student's factor k for ν degrees"
            " of freedom by Welch and Satterthwaite (GUM, annex G), and rectangular errors that"
            " dominate in full. Reports that were frozen before this rule show one standard"
            " uncertainty (k = 1) instead and took each reading for itself."
        )
    ]
    if not found.scope.is_whole:
        text.append(
            _(
                "Weighings, scales and runs are those of the runs that this one's material went"
                " through in the period, with what was weighed in them of others."
            )
        )
    if open_runs:
        text.append(
            ngettext(
                "{number} run was open at the end of the period: what is inside is in the"
                " statement as work in process, and may still become product, waste or loss.",
                "{number} runs were open at the end of the period: what is inside is in the"
                " statement as work in process, and may still become product, waste or loss.",
                len(open_runs),
            ).format(number=len(open_runs))
        )
    if not corrected:
        text.append(_("Nothing was written in this period about earlier ones."))
    facts = [
        Fact(key, title, len(runs), NUMBER, how="computed")
        for key, title, runs in zip(
            ("closed_within_weighing", "closed_as_usual", "to_look_at", "closed_open"),
            (
                _("Runs that balance within weighing"),
                _("Runs that lose what is usual here"),
                _("Runs to check"),
                _("Runs that do not balance"),
            ),
            listed,
            strict=True,
        )
    ]
    facts.append(Fact("open_runs", _("Open runs"), len(open_runs), NUMBER))
    tables = (_how(sure), _scales(found, sure), _doubtful(found, states), _open_table(open_runs))
    return Section(
        "trust",
        _("What the figures rest on"),
        tuple(text),
        tuple(facts),
        tuple(one for one in tables if one.rows),
    )


def _how(sure: Sure) -> Table:
    lines: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0])
    for one in sure.figures:
        key = "by book" if one.by_book else one.how, one.basis
        lines[key][0] += 1
        lines[key][1] += one.mass_mg
    order = sorted(lines, key=lambda key: (HOW_TITLES.index(key[0]), key[1]))
    return Table(
        "weighings",
        _("How the masses of the period became known"),
        (
            words("how", _("How")),
            words("basis", _("What its uncertainty rests on")),
            Column("figures", _("Figures"), NUMBER),
            mass("mass_mg", _("Mass")),
        ),
        tuple((_how_title(key[0]), str(BASES[key[1]]), *lines[key]) for key in order),
    )


def _how_title(how: str) -> str:
    return {
        "weighed": _("Weighed"),
        "counted": _("Counted"),
        "estimated": _("Estimated"),
        "by book": _("Taken whole, by the book"),
    }[how]


def _scales(found: Movements, sure: Sure) -> Table:
    used: dict[str, int] = defaultdict(int)
    for one in sure.figures:
        if one.scale and one.how == "weighed":
            used[one.scale] += 1
    rows = Scale.objects.filter(workshop_id=found.scope.actor.workshop_id).order_by("name")
    return Table(
        "scales",
        _("Scales, and when each was last checked"),
        (
            words("scale", _("Scale")),
            words("accuracy_class", _("Class")),
            mass("interval_mg", _("Step"), "typed"),
            mass("capacity_mg", _("Capacity"), "typed"),
            Column("checked_day", _("Last checked"), DAY, how="typed"),
            Column("weighings", _("Weighings in the period"), NUMBER),
        ),
        tuple(
            (
                one.name,
                one.accuracy_class,
                one.interval_mg,
                one.capacity_mg,
                one.checked_date.isoformat() if one.checked_date else None,
                used[one.name],
            )
            for one in rows
            if found.scope.is_whole or used[one.name]
        ),
    )


Doubtful = list[tuple[int, Measured]]


def _states(found: Movements, sure: Sure) -> dict[str, Doubtful]:
    """Say of each run that closed in the period how it closes, by state."""
    by_run: dict[int, list[Surely]] = defaultdict(list)
    for one in sure.figures:
        by_run[one.run_id].append(one)
    left: dict[int, int] = defaultdict(int)
    touched = set()
    for moved in found.inside:
        if moved.account == UNACCOUNTED:
            left[moved.run_id] += moved.whole_mg
        if moved.mass_mg:
            touched.add(moved.run_id)
    endings = {
        run_id: Ending(run_id, run.stage, run.machine_id, run.polymer, run.ended_at)
        for run_id in by_run
        if (run := found.runs.get(run_id)) and run_id in touched and _closed_inside(found, run)
    }
    states: dict[str, Doubtful] = defaultdict(list)
    if not endings:
        return states
    earlier = EarlierRuns.of(sure.instruments, list(endings.values()))
    for run_id, ending in endings.items():
        figures = by_run[run_id]
        summed = left_over((f.sign, f.mass_mg, f.sureness) for f in figures)
        left_mg = Measured.of(left[run_id], summed.parts)
        went_in_mg = sum(f.mass_mg for f in figures if f.sign > 0)
        usual = earlier.usual(ending)
        u_mg = uncertainty(left_mg, usual.runs)
        closed = closure(left_mg, band(usual, went_in_mg, u_mg, sure.instruments.bounds))
        states[closed.state].append((run_id, closed.unaccounted))
    return states


def _closed_inside(found: Movements, run: Any) -> bool:
    scope = found.scope
    closed = run.state == Run.CLOSED and run.stage in CLOSING
    return closed and scope.start <= run.ended_at < scope.end


def _doubtful(found: Movements, states: dict[str, Doubtful]) -> Table:
    rows = []
    for state in STATES[2:]:
        for run_id, left in sorted(states[state], key=lambda one: -abs(one[1].value)):
            run = found.runs[run_id]
            day, left_mg = found.scope.day(run.ended_at), round(left.value)
            sure = covered_cells(covered(left), MASS)
            rows.append((run.code, stage_title(run.stage), day, left_mg, *sure, _state(state)))
    return Table(
        "runs_to_look_at",
        _("Runs to check, and runs that do not balance"),
        (
            words("run", _("Run")),
            words("stage", _("Stage")),
            Column("ended_day", _("Ended"), DAY),
            mass("unaccounted_mg", _("Unaccounted")),
            *covered_columns("mg", MASS),
            words("state", _("State")),
        ),
        tuple(rows),
    )


def _state(state: str) -> str:
    return {STATES[2]: _("Check it"), STATES[3]: _("Does not balance")}[state]


def _open_runs(found: Movements) -> list[tuple[Cell, ...]]:
    """List runs with something inside at the period's end."""
    return [
        (run.code, stage_title(run.stage), part_mg)
        for run_id, part_mg in sorted(found.inside_runs.items())
        for run in [found.runs[run_id]]
    ]


def _open_table(rows: list[tuple[Cell, ...]]) -> Table:
    return Table(
        "open_runs",
        _("Runs that were open at the end of the period"),
        (words("run", _("Run")), words("stage", _("Stage")), mass("inside_mg", _("Inside"))),
        tuple(rows),
        (_("All"), "", sum(int(row[2] or 0) for row in rows)),
    )
