"""Enter prices and carbon factors of electricity, each with its source."""

from __future__ import annotations

from django.utils import timezone

from recycling.calc.energy.factors import KG_PER_KWH
from recycling.keeping.deed import deed
from recycling.keeping.machines import check_needed, check_number
from recycling.keeping.texts import check_text
from recycling.models import EnergyFactor, EnergyTariff
from recycling.records.actors import Actor
from recycling.records.energy.entries import FactorEntry, TariffEntry
from shared.errors import Collected
from shared.said import say


@deed("manage")
def tariff_add(actor: Actor, entry: TariffEntry) -> int:
    """Enter a price of electricity; return its id.

    Raises
    ------
    Refused
        When the price, the currency or its source is missing or out of bounds.
    """
    found = Collected()
    check_number(entry.price_per_kwh, 0, 1000, "/price_per_kwh", "", found)
    code = entry.currency.strip().upper()
    if not (len(code) == 3 and code.isascii() and code.isalpha()):
        found.add("currency-unknown", "Three letters, as EUR.", "/currency")
    check_needed(entry.source, "/source", "where the price stands", found)
    check_text(entry.source, "/source", found, 200)
    found.refuse()
    row = EnergyTariff.objects.create(
        workshop_id=actor.workshop_id,
        price_per_kwh=entry.price_per_kwh,
        currency=code,
        source=entry.source.strip(),
        read_date=entry.read_date,
        valid_from=entry.valid_from,
        written_at=timezone.now(),
        actor=actor.reference,
    )
    return row.pk


@deed("manage")
def factor_add(actor: Actor, entry: FactorEntry) -> int:
    """Enter the carbon of a unit of electricity as published; return its id.

    Raises
    ------
    Refused
        When anything that tells what the figure means is missing.
    """
    found = Collected()
    check_number(entry.value, 0, 100_000, "/value", "", found)
    if entry.unit not in KG_PER_KWH:
        found.add(
            "unit-unknown", say("One of {kg_per_kwh}.", kg_per_kwh=", ".join(KG_PER_KWH)), "/unit"
        )
    for name, what in (
        ("scope", "what is counted"),
        ("region", "where it holds"),
        ("publisher", "who publishes it"),
    ):
        check_needed(getattr(entry, name), f"/{name}", what, found)
        check_text(getattr(entry, name), f"/{name}", found, 120)
    check_number(entry.year, 1990, entry.read_date.year, "/year", "", found)
    found.refuse()
    row = EnergyFactor.objects.create(
        workshop_id=actor.workshop_id,
        value=entry.value,
        unit=entry.unit,
        scope=entry.scope.strip(),
        region=entry.region.strip(),
        year=entry.year,
        publisher=entry.publisher.strip(),
        read_date=entry.read_date,
        valid_from=entry.valid_from,
        written_at=timezone.now(),
        actor=actor.reference,
    )
    return row.pk
