"""Stock at both ends of a report's period, by place, form and polymer."""

from __future__ import annotations

from collections import defaultdict

from django.utils.translation import gettext as _

from recycling.records.balance.balance import Statement
from recycling.records.reports.documents import MASS, Cell, Fact, Section, Table
from recycling.reports.movements import Movements
from recycling.reports.places import PLACES, UNPROCESSED, Places, mass, place_title, words
from recycling.stages.declaration import FORMS


def stock_section(found: Movements, whole: Statement, places: Places) -> Section:
    """Show what was here at the start and at the end; what is not yet processed apart."""
    text = _(
        "What is not yet processed is a line of its own and counts neither as product nor as"
        " waste. What is inside open runs is not stock; the statement has it."
    )
    return Section(
        "stock",
        _("Stock"),
        (text,),
        (
            Fact(
                "unprocessed_mg",
                _("Not yet processed at the end"),
                places.closing[UNPROCESSED],
                MASS,
                how="mixed",
            ),
            Fact(
                "in_process_mg",
                _("Inside open runs at the end"),
                whole.in_process_mg,
                MASS,
                how="computed",
            ),
        ),
        (_by_place(places), _by_form(found)),
    )


def _by_place(places: Places) -> Table:
    rows = [(place_title(place), places.opening[place], places.closing[place]) for place in PLACES]
    return Table(
        "stock",
        _("Stock by what it is"),
        (words("place", _("What it is")), *_ends()),
        tuple(rows),
        (_("All"), sum(row[1] for row in rows), sum(row[2] for row in rows)),
    )


def _by_form(found: Movements) -> Table:
    sums: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0])
    for lot_id, ends in found.stock.items():
        lot = found.lots[lot_id]
        for place, mass_mg in enumerate(ends):
            sums[lot.form, lot.polymer][place] += found.part(lot_id, mass_mg)
    order = sorted(sums, key=lambda key: (FORMS.index(key[0]) if key[0] in FORMS else 99, key))
    shown = [key for key in order if any(sums[key])]
    rows: list[tuple[Cell, ...]] = [(*key, *sums[key]) for key in shown]
    return Table(
        "stock_by_form",
        _("Stock by form and polymer"),
        (words("form", _("Form")), words("polymer", _("Polymer")), *_ends()),
        tuple(rows),
        (_("All"), "", sum(sums[key][0] for key in shown), sum(sums[key][1] for key in shown)),
    )


def _ends() -> tuple:
    return mass("opening_mg", _("At the start")), mass("closing_mg", _("At the end"))
