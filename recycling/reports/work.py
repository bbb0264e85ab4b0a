"""The work of a report's period: yield of each stage with its uncertainty, and energy."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from recycling.calc.balance.yields import first_pass_yield
from recycling.queries.balance.closures import CLOSING
from recycling.queries.balance.covered import covered
from recycling.queries.energy.runs import Made
from recycling.queries.energy.stages import stages_energy
from recycling.records.energy.figures import StageEnergy
from recycling.records.reports.documents import (
    BARS,
    ENERGY,
    NUMBER,
    SHARE,
    Cell,
    Column,
    Drawing,
    Section,
    Table,
)
from recycling.reports.counted import Sure, Surely
from recycling.reports.covered import covered_cells, covered_columns
from recycling.reports.movements import Movement, Movements
from recycling.reports.places import mass, rounded, stage_title, words
from recycling.reports.runs import fed_of, run_parts, runs_table
from recycling.stages.declaration import PRODUCT, RECIRCULATE
from shared.measured import Measured, combined, total

MG_PER_KG = 1_000_000


@dataclass
class Flowing:
    """What a stage gave as product and was fed of its polymer, mg, with how sure each is."""

    runs: set[int]
    masses: dict[str, list[Measured]] = field(default_factory=lambda: defaultdict(list))

    def measured(self, what: str) -> Measured:
        """Give the ``product``, or what was fed ``fresh`` or ``again``, mg."""
        return total(self.masses[what])


def yields_section(found: Movements, sure: Sure) -> Section:
    """Show product over target polymer fed, stage by stage, as weighed."""
    stages = _flowing(found, sure)
    text = [
        _(
            "Yield is product over polymer fed, as weighed, over all that moved in the period;"
            " what had gone round is counted each time it is fed."
        )
    ]
    if not found.scope.is_whole:
        text.append(_("Masses are this one's part of each run; the runs did other work too."))
    table = Table(
        "yields",
        _("Yield of each stage"),
        (
            words("stage", _("Stage")),
            Column("runs", _("Runs"), NUMBER),
            mass("product_mg", _("Product")),
            mass("target_mg", _("Polymer fed")),
            mass("again_mg", _("Of it going round again")),
            Column("yield_share", _("Yield"), SHARE, how="computed"),
            *covered_columns("yield_share", SHARE),
        ),
        tuple(_row(key, stages[key]) for key in CLOSING if key in stages),
    )
    return Section("yields", _("Yield"), tuple(text), tables=(table,))


def _row(key: str, one: Flowing) -> tuple[Cell, ...]:
    product, fresh, again = (one.measured(what) for what in ("product", "fresh", "again"))
    product_mg, again_mg = round(product.value), round(again.value)
    fed_mg = round(fresh.value) + again_mg
    share = None
    if product_mg > 0 and fed_mg > 0:
        share = first_pass_yield(product, fresh, again)
    return (
        stage_title(key),
        len(one.runs),
        product_mg,
        fed_mg,
        again_mg,
        share.value if share else None,
        *covered_cells(covered(share) if share else None, SHARE),
    )


def _flowing(found: Movements, sure: Sure) -> dict[str, Flowing]:
    stages: dict[str, Flowing] = defaultdict(lambda: Flowing(set()))
    for moved in found.inside:
        run = found.runs[moved.run_id]
        if not moved.lot_id or run.stage not in CLOSING:
            continue
        if what := _what(found, moved):
            one = stages[run.stage]
            one.runs.add(moved.run_id)
            one.masses[what].append(_sure(moved, sure))
    return stages


def _what(found: Movements, moved: Movement) -> str:
    """Say what a movement is to its stage's yield; empty for what is none of it."""
    lot, run = found.lots[moved.lot_id], found.runs[moved.run_id]
    if not moved.mass_mg:
        return ""
    if lot.maker == moved.run_id:
        return "product" if lot.role == PRODUCT else ""
    if lot.polymer != run.polymer:
        return ""
    own = found.runs[lot.maker].stage == run.stage
    return "again" if lot.role == RECIRCULATE and own else "fresh"


def _sure(moved: Movement, sure: Sure) -> Measured:
    """Give the part of a movement that is this report's, as sure as its figures are."""
    mass_mg = abs(moved.mass_mg)
    weighed = total(one.measured for one in sure.by_pair.get((moved.run_id, moved.lot_id), ()))
    if not weighed.value:
        return Measured(float(mass_mg))
    return combined(mass_mg, [(weighed, mass_mg / weighed.value)])


def energy_section(found: Movements, sure: Sure) -> Section:
    """Show the energy of each stage's runs that ended in the period, and what logs cover."""
    scope = found.scope
    fed = {} if scope.is_whole else fed_of(found)
    stages = stages_energy(
        scope.actor,
        scope.start,
        scope.end,
        made=_made(found, sure),
        parts=None if scope.is_whole else run_parts(found, fed),
    )
    text = list(_energy_text(stages, scope.is_whole))
    table = Table(
        "energy",
        _("Energy of each stage"),
        (
            words("stage", _("Stage")),
            Column("runs", _("Runs on machines"), NUMBER),
            Column("runs_logged", _("Of them logged"), NUMBER),
            Column("energy_kwh", _("Energy"), ENERGY, how="measured"),
            mass("product_mg", _("Product of logged runs")),
            Column("kwh_per_kg", _("For each kilogram"), NUMBER, "kWh/kg", "computed"),
            Column("coverage_share", _("Time that logs cover"), SHARE, how="computed"),
        ),
        tuple(
            (
                one.title,
                one.runs,
                one.runs_logged,
                one.kwh if one.runs_logged else None,
                one.logged_product_mg,
                one.kwh_per_kg if one.runs_logged else None,
                one.coverage,
            )
            for one in stages
        ),
    )
    tables = (table, runs_table(found, fed)) if fed else (table,)
    return Section("energy", _("Energy"), tuple(text), (), tables, tuple(_drawn(stages)))


def _made(found: Movements, sure: Sure) -> Made:
    """Give how sure each product is, by run and lot."""
    return {
        (run_id, lot_id): _all_of(known)
        for (run_id, lot_id), known in sure.by_pair.items()
        if found.lots[lot_id].maker == run_id and found.lots[lot_id].role == PRODUCT
    }


def _all_of(known: list[Surely]) -> Measured:
    first, *others = (one.measured for one in known)
    return total([first, *others]) if others else first


def _energy_text(stages: list[StageEnergy], is_whole: bool) -> Iterator[str]:
    if not any(one.runs_logged for one in stages):
        yield _("No log speaks of the energy of these runs; nothing is estimated in its place.")
        return
    yield _(
        "Energy is taken from meter readings, power logs, or rated power and time, in this order"
        " of trust; gaps are not filled. Warm-up, purge and standby are shared over a session's"
        " outputs by mass."
    )
    if not is_whole:
        yield _(
            "Shown are the runs that this one's material went through. Of the energy of each it has"
            " a share in proportion to its part of the mass that each run was fed; the shares of"
            " all givers and of the rest add up to the energy of the run."
        )
    if incomplete := sum(one.runs_incomplete for one in stages):
        yield _(
            "{number} runs show less energy than heating and melting must have taken: their logs"
            " are incomplete."
        ).format(number=incomplete)


def _drawn(stages: list[StageEnergy]) -> Iterator[Drawing]:
    known = [one for one in stages if one.runs_logged and one.kwh_per_kg is not None]
    if known:
        most = max(known, key=lambda one: one.kwh_per_kg or 0.0)
        yield Drawing(
            "energy",
            BARS,
            _("{stage} takes most: {number} kWh for each kilogram.").format(
                stage=most.title, number=rounded(most.kwh_per_kg or 0.0, 2)
            ),
            _("A bar for each stage with its energy for each kilogram of product."),
            "energy",
            "stage",
            ("kwh_per_kg",),
        )
