"""The months of a balance side by side: a drawing, its table, and its CSV."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from recycling.figures.flows_svg import months_svg
from recycling.records.balance.balance import MonthBalance
from recycling.records.drawings import Months, MonthSeries
from recycling.tables.csv_text import kilograms
from recycling.web.pages.figures import Figure
from recycling.web.templatetags.look import kg, mass_text

MOST_DRAWN = 24
COLUMNS = (
    "month",
    "collected, kg",
    "filament, kg",
    "side streams, kg",
    "waste, kg",
    "measured losses, kg",
    "unaccounted, kg",
    "dispatched, kg",
    "discarded, kg",
)


def months_figure(months: Sequence[MonthBalance], csv_url: str) -> Figure | None:
    """Draw what each month's work gave; None for fewer than two months."""
    if len(months) < 2:
        return None
    drawn = tuple(months[-MOST_DRAWN:])
    most = max(months, key=lambda one: one.filament_mg)
    title = _("The months side by side")
    finding = _("Most filament was made in %(month)s: %(mass)s.") % {
        "month": most.month,
        "mass": mass_text(most.filament_mg),
    }
    record = Months(title, finding, tuple(one.month for one in drawn), _series(drawn))
    columns = (
        _("Month"),
        _("Collected, kg"),
        _("Filament, kg"),
        _("Side streams, kg"),
        _("Waste, kg"),
        _("Measured losses, kg"),
        _("Unaccounted, kg"),
        _("Dispatched, kg"),
        _("Discarded, kg"),
    )
    rows = tuple((one.month, *map(kg, _masses(one))) for one in months)
    note = _("The drawing shows what the month's runs gave and lost; the table has the rest.")
    svg = months_svg(record, mass_text, "months-drawing")
    return Figure("months", title, finding, svg, columns, rows, csv_url, note, record)


def _series(drawn: Sequence[MonthBalance]) -> tuple[MonthSeries, ...]:
    lines = (
        (_("Filament"), "product", [one.filament_mg for one in drawn]),
        (_("Side streams"), "side", [one.side_mg for one in drawn]),
        (_("Waste"), "waste", [one.waste_mg for one in drawn]),
        (_("Measured losses"), "loss", [one.lost_mg for one in drawn]),
        (_("Unaccounted"), "unaccounted", [one.unaccounted_mg for one in drawn]),
    )
    return tuple(MonthSeries(label, role, tuple(masses)) for label, role, masses in lines)


def _masses(one: MonthBalance) -> tuple[int, ...]:
    return (
        one.collected_mg,
        one.filament_mg,
        one.side_mg,
        one.waste_mg,
        one.lost_mg,
        one.unaccounted_mg,
        one.dispatched_mg,
        one.discarded_mg,
    )


def month_cells(one: MonthBalance) -> tuple[object, ...]:
    """Write a month for CSV."""
    return one.month, *map(kilograms, _masses(one))
