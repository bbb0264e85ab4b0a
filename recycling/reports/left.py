"""What left the way to filament: side streams, waste, measured losses, unaccounted mass."""

from __future__ import annotations

from collections import defaultdict

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from recycling.calc.reports.diversion import DISPOSED, ENERGY, RECYCLED, Counter, recycling_rate
from recycling.models import RunCheck
from recycling.queries.people.consent import names_agreed
from recycling.records.reports.documents import SHARE, Cell, Fact, Section, Table
from recycling.reports.counted import Counted, Sure
from recycling.reports.counters import Counts, counted_one
from recycling.reports.covered import covered_fact
from recycling.reports.movements import Movements
from recycling.reports.places import account_title, border_of, mass, stage_title, words
from recycling.reports.scope import Scope
from recycling.stages import STAGES
from recycling.stages.declaration import (
    DISCARDED,
    DISPATCHED,
    LOSSES,
    SIDE,
    UNACCOUNTED,
    WASTE,
)
from recycling.stages.discard import BURNED

Destinations = dict[int, str]

NOT_NAMED = gettext_noop("A receiver that is not named")


def destinations_of(scope: Scope) -> Destinations:
    """Read where each run that took something out of the workshop took it, newest note first.

    Receivers are people or houses: one is named only when a source of that name may be named.
    """
    named = names_agreed(scope.actor.workshop_id)
    rows = (
        RunCheck.objects.filter(
            run__workshop_id=scope.actor.workshop_id,
            run__stage__in=[one.key for one in STAGES if one.border],
            run__started_at__lt=scope.end,
            key__in=["receiver", "destination"],
        )
        .order_by("pk")
        .values_list("run_id", "key", "value")
    )
    return {
        run_id: value if key == "destination" or value in named else ""
        for run_id, key, value in rows
    }


def left_section(
    found: Movements, counts: Counts, sure: Sure, destinations: Destinations
) -> Section:
    """Show side streams and waste with where they went, losses, and what is unaccounted for."""
    handed, thrown = _gone(found, destinations)
    rate = _rate(found, counts, sure, destinations)
    return Section(
        "left",
        _("Side streams, waste and losses"),
        (
            _(
                "Burning for energy and sending to municipal sorting count as disposal here:"
                " what becomes of it there is not known. The recycling rate is that of the US"
                " EPA: recycled over recycled and disposed. Recycled is good product and side"
                " streams handed on, from collections."
            ),
            _("Receivers are named only where the set-up says that they may be."),
        ),
        rate,
        tuple(
            one
            for one in (_side_table(found), handed, thrown, _waste_table(found), _losses(found))
            if one.rows
        ),
    )


def _made_and_kept(found: Movements, role: str) -> tuple[tuple[Cell, ...], ...]:
    sums: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0] * 5)
    for lot_id, (opening_mg, closing_mg) in found.stock.items():
        lot = found.lots[lot_id]
        if lot.role == role:
            sums[lot.form, lot.polymer][0] += found.part(lot_id, opening_mg)
            sums[lot.form, lot.polymer][4] += found.part(lot_id, closing_mg)
    for moved in found.inside:
        if not moved.lot_id or found.lots[moved.lot_id].role != role:
            continue
        lot = found.lots[moved.lot_id]
        border = border_of(found, moved)
        place = {DISPATCHED: 2, DISCARDED: 3}.get(border, 1)
        sums[lot.form, lot.polymer][place] += moved.mass_mg * (1 if place == 1 else -1)
    return tuple((*key, *sums[key]) for key in sorted(sums) if any(sums[key]))


def _kept_columns(made: str) -> tuple:
    return (
        words("form", _("Form")),
        words("polymer", _("Polymer")),
        mass("opening_mg", _("At the start")),
        mass("made_mg", made),
        mass("dispatched_mg", _("Handed on")),
        mass("discarded_mg", _("Discarded")),
        mass("closing_mg", _("At the end")),
    )


def _kept_table(found: Movements, role: str, key: str, caption: str) -> Table:
    rows = _made_and_kept(found, role)
    sums = [sum(int(row[place] or 0) for row in rows) for place in range(2, 7)]
    made = _("Set aside, less taken back")
    return Table(key, caption, _kept_columns(made), rows, (_("All"), "", *sums))


def _side_table(found: Movements) -> Table:
    return _kept_table(found, SIDE, "side_streams", _("Side streams, by form and polymer"))


def _waste_table(found: Movements) -> Table:
    return _kept_table(found, WASTE, "waste", _("Waste, by form and polymer"))


def _gone(found: Movements, destinations: Destinations) -> tuple[Table, Table]:
    sums: dict[str, dict[tuple[str, str, str], int]] = {
        DISPATCHED: defaultdict(int),
        DISCARDED: defaultdict(int),
    }
    for moved in found.inside:
        border = border_of(found, moved)
        if border in sums and moved.mass_mg:
            lot = found.lots[moved.lot_id]
            where = destinations.get(moved.run_id, "")
            sums[border][where, lot.form, lot.polymer] -= moved.mass_mg
    nobody = {DISPATCHED: _(NOT_NAMED), DISCARDED: _("Not noted")}
    handed = _gone_table(
        "handed_on", _("What was handed on, and to whom"), _("Receiver"), sums, nobody, DISPATCHED
    )
    caption = _("What was discarded, and where it went")
    return handed, _gone_table("discarded", caption, _("Where to"), sums, nobody, DISCARDED)


def _gone_table(
    key: str,
    caption: str,
    title: str,
    sums: dict[str, dict[tuple[str, str, str], int]],
    nobody: dict[str, str],
    border: str,
) -> Table:
    rows = sorted(
        (where or nobody[border], form, polymer, mass_mg)
        for (where, form, polymer), mass_mg in sums[border].items()
        if mass_mg
    )
    columns = (
        words("where", title),
        words("form", _("Form")),
        words("polymer", _("Polymer")),
        mass("mass_mg", _("Mass")),
    )
    return Table(key, caption, columns, tuple(rows), (_("All"), "", "", sum(r[3] for r in rows)))


def _losses(found: Movements) -> Table:
    """Show measured losses by stage, and what is unaccounted for, never folded away."""
    accounts = (*LOSSES, UNACCOUNTED)
    sums: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for moved in found.inside:
        if moved.account in accounts:
            sums[found.runs[moved.run_id].stage][moved.account] += moved.mass_mg
    rows: list[tuple[Cell, ...]] = [
        (stage_title(stage.key), *(sums[stage.key][name] for name in accounts))
        for stage in STAGES
        if stage.key in sums
    ]
    return Table(
        "losses",
        _("Measured losses and what is unaccounted for, by stage"),
        (
            words("stage", _("Stage")),
            *(mass(f"{name}_mg", account_title(name)) for name in accounts),
        ),
        tuple(rows),
        (_("All"), *(sum(each[name] for each in sums.values()) for name in accounts)),
    )


def _rate(
    found: Movements, counts: Counts, sure: Sure, destinations: Destinations
) -> tuple[Fact, ...]:
    """Work out the recycling rate of the period: recycled over recycled and disposed."""
    recycled, burnt, disposed = counts.total(Counter.PRODUCT), Counted(), Counted()
    for moved in found.inside:
        border = border_of(found, moved)
        if border == DISCARDED:
            where = destinations.get(moved.run_id, "")
            (burnt if where == BURNED else disposed).add(counted_one(found, moved, sure))
        elif border == DISPATCHED and found.lots[moved.lot_id].role == SIDE:
            recycled.add(counted_one(found, moved, sure))
    by_destination = {
        RECYCLED: recycled.measured,
        ENERGY: burnt.measured,
        DISPOSED: disposed.measured,
    }
    if sum(one.value for one in by_destination.values()) <= 0:
        return ()
    share = recycling_rate(by_destination)
    return (
        covered_fact(
            "recycling_rate_share",
            _("Recycling rate"),
            share,
            SHARE,
            how="computed",
            note=_("Recycled over recycled and disposed, as the US EPA defines it."),
        ),
    )
