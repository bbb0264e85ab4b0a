"""Figures of a report with what covers 95 % of the truths, as columns, cells and facts."""

from __future__ import annotations

from django.utils.formats import get_format
from django.utils.translation import gettext as _

from recycling.queries.balance.covered import covered
from recycling.records.balance.covered import BECAUSE, Covered
from recycling.records.reports.documents import MASS, TEXT, Cell, Column, Fact
from shared.measured import Measured


def covered_columns(key: str, kind: str) -> tuple[Column, Column, Column]:
    """Head a figure's half-interval, its standard uncertainty, and what they rest on."""
    return (
        Column(f"half_{key}", _("± (covers 95 %)"), kind, how="computed"),
        Column(f"u_{key}", _("Standard uncertainty"), kind, how="computed"),
        Column(BECAUSE, _("Rests on"), TEXT),
    )


def covered_cells(one: Covered | None, kind: str) -> tuple[Cell, Cell, Cell]:
    """Give these three; nothing where there is no figure."""
    if one is None:
        return None, None, None
    half, u = (round(part) if kind == MASS else part for part in (one.half, one.u))
    return half, u, one.said(get_format("DECIMAL_SEPARATOR"))


def covered_fact(
    key: str, title: str, measured: Measured, kind: str, *, how: str, note: str = ""
) -> Fact:
    """State a figure of a report with what covers 95 % of the truths; a mass in whole mg."""
    one, value = covered(measured), measured.value
    u: Cell = round(one.u) if kind == MASS else one.u
    return Fact(
        key,
        title,
        round(value) if kind == MASS else value,
        kind,
        how=how,
        uncertainty=u,
        note=note,
        covered=one if one.u else None,
    )
