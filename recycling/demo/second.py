"""A second, small workshop, so that switching between workshops can be tried."""

from __future__ import annotations

from datetime import datetime, timedelta

from recycling.demo import cast
from recycling.records.lots.mass_entries import DrawEntry, OutputEntry
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.records.runs.entries import RunEntry
from recycling.records.setup.entries import ProgrammeEntry, SourceEntry
from recycling.services.lots.origin_record import origin_record
from recycling.services.people.workshops import member_add, workshop_open
from recycling.services.runs.run_record import run_record
from recycling.services.setup import register as setting_up

MARKET_DAYS = "Market days without waste"


def open_second(now: datetime) -> None:
    """Open it with one collection, sorted."""
    lead = workshop_open(cast.SECOND)
    for member in cast.SECOND_MEMBERS:
        member_add(lead, member)
    setting_up.source_add(lead, SourceEntry("Chapel Yard market", "event", may_be_named=True))
    setting_up.programme_add(
        lead, ProgrammeEntry(MARKET_DAYS, "Chapel Yard neighbours", target_mg=12_000_000)
    )
    came = now - timedelta(days=9, hours=3)
    bags = (BagEntry(1_760_000, colour="clear"), BagEntry(1_240_000, colour="light blue"))
    collection = origin_record(
        lead,
        OriginEntry("collection", came, bags, source="Chapel Yard market", programme=MARKET_DAYS),
    )
    run_record(
        lead,
        RunEntry(
            "sort",
            came + timedelta(hours=20),
            came + timedelta(hours=21),
            inputs=tuple(DrawEntry(lot.code, all=True) for lot in collection.lots),
            outputs=(
                OutputEntry("clean bottles", 2_534_000),
                OutputEntry("caps", 203_000, "HDPE"),
                OutputEntry("labels", 81_000, "PP"),
                OutputEntry("reject", 152_000),
            ),
        ),
    )
