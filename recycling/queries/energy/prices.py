"""Prices and carbon factors that the workshop entered, and which one holds on a day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TypeVar

from recycling.models import EnergyFactor, EnergyTariff
from recycling.records.actors import Actor
from recycling.records.setup.machines import FactorRow, TariffRow

Row = TypeVar("Row", TariffRow, FactorRow)
_TARIFF = ("pk", "price_per_kwh", "currency", "source", "read_date", "valid_from")
_FACTOR = (
    "pk",
    "value",
    "unit",
    "scope",
    "region",
    "year",
    "publisher",
    "read_date",
    "valid_from",
)


def tariffs(actor: Actor) -> list[TariffRow]:
    """List prices of electricity, the newest first."""
    return tariff_rows(actor.workshop_id)


def tariff_rows(workshop_id: int) -> list[TariffRow]:
    rows = EnergyTariff.objects.filter(workshop_id=workshop_id).order_by("-valid_from", "-pk")
    return [TariffRow(*row) for row in rows.values_list(*_TARIFF)]


def factors(actor: Actor) -> list[FactorRow]:
    """List carbon factors of electricity, the newest first."""
    return factor_rows(actor.workshop_id)


def factor_rows(workshop_id: int) -> list[FactorRow]:
    rows = EnergyFactor.objects.filter(workshop_id=workshop_id).order_by("-valid_from", "-pk")
    return [FactorRow(*row) for row in rows.values_list(*_FACTOR)]


def in_force(rows: Sequence[Row], day: date) -> Row | None:
    """Give what holds on a day: the newest entry that is valid from then or before."""
    return next((row for row in rows if row.valid_from <= day), None)
