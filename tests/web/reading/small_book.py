"""A small book, recorded through the services: two sources, one of them in every spool."""

from __future__ import annotations

from datetime import datetime, timedelta

from recycling.queries.runs.runs import run_page
from recycling.records.actors import Actor
from recycling.records.lots.mass_entries import (
    DrawEntry,
    HeelEntry,
    LossEntry,
    OutputEntry,
    SpoolEntry,
)
from recycling.records.lots.notes import HoldEntry, LotEventEntry
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.records.people import WorkshopEntry
from recycling.records.quality.entries import VerdictEntry
from recycling.records.runs.entries import (
    CheckEntry,
    CorrectionEntry,
    FeedEntry,
    RunEntry,
    SettingEntry,
)
from recycling.records.setup.entries import MachineEntry, ProgrammeEntry, SourceEntry
from recycling.services.lots.holds import hold_place
from recycling.services.lots.lot_notes import lot_event
from recycling.services.lots.origin_record import origin_record
from recycling.services.people.workshops import workshop_open
from recycling.services.quality.verdict_give import verdict_give
from recycling.services.runs.corrections import posting_correct
from recycling.services.runs.run_open import run_open
from recycling.services.runs.run_record import run_record
from recycling.services.setup.register import machine_add, programme_add, source_add

PASSWORD = "a sound long password"
HOUR = timedelta(hours=1)


class Book:
    """Codes of a small book: two schools' bottles, one of them in every spool."""

    def __init__(self, actor: Actor, start: datetime) -> None:
        self.actor, self.start = actor, start
        self.codes: dict[str, str] = {}

    def at(self, hours: float) -> datetime:
        return self.start + hours * HOUR

    def set_up(self) -> None:
        for name, named in (("North school", True), ("=Bin by the quay", False)):
            source_add(self.actor, SourceEntry(name=name, kind="school", may_be_named=named))
        programme_add(self.actor, ProgrammeEntry(name="Clean quay", funder="Town fund"))
        for name, kind in (
            ("Old Grinder", "shredder"),
            ("Thin Oven", "dryer"),
            ("Long", "extruder"),
        ):
            machine_add(self.actor, MachineEntry(name=name, kind=kind))

    def collect(self, name: str, source: str, hours: float, *masses_mg: int) -> None:
        entry = OriginEntry(
            kind="collection",
            happened_at=self.at(hours),
            source=source,
            programme="Clean quay",
            bags=tuple(BagEntry(mass_mg, colour="clear") for mass_mg in masses_mg),
        )
        recorded = origin_record(self.actor, entry)
        self.codes[name] = recorded.code
        for place, lot in enumerate(recorded.lots, 1):
            self.codes[f"{name} bag {place}"] = lot.code

    def run(self, name: str, hours: float, **fields) -> None:
        entry = RunEntry(started_at=self.at(hours), ended_at=self.at(hours + 1), **fields)
        recorded = run_record(self.actor, entry)
        self.codes[name] = recorded.code
        for lot in recorded.lots:
            self.codes[f"{name} {lot.form}"] = lot.code
            self.codes.setdefault(f"{name} first {lot.form}", lot.code)

    def draw(self, name: str) -> DrawEntry:
        return DrawEntry(self.codes[name], all=True)

    def record(self) -> Book:
        """Record the book up to the spools, with a run that is open, a hold and a correction."""
        self.set_up()
        self.collect("school", "North school", 0, 4_000_000, 2_500_000)
        self.collect("quay", "=Bin by the quay", 2, 3_000_000)
        self.collect("late", "North school", 4, 1_200_000)
        self.run(
            "sort",
            6,
            stage="sort",
            inputs=(self.draw("school bag 1"), self.draw("quay bag 1")),
            outputs=(
                OutputEntry("clean bottles", 6_300_000),
                OutputEntry("caps", 480_000, polymer="HDPE"),
                OutputEntry("labels", 120_000, polymer="PP"),
            ),
            losses=(LossEntry("residue", 60_000, "weighed on a cloth"),),
            checks=(CheckEntry("adhesive_method", "warm water"),),
            note="+1 helper, wet day",
        )
        self.run(
            "shred",
            8,
            stage="shred",
            machine="Old Grinder",
            inputs=(self.draw("sort clean bottles"),),
            outputs=(
                OutputEntry("flake", 6_000_000),
                OutputEntry("oversize", 180_000),
                OutputEntry("fines", 90_000),
            ),
            losses=(LossEntry("dust", 12_000, "bag of the extractor"),),
        )
        self.run(
            "dry",
            10,
            stage="dry",
            machine="Thin Oven",
            inputs=(self.draw("shred flake"),),
            outputs=(OutputEntry("dried flake", 5_970_000),),
            losses=(LossEntry("water", 30_000, "moisture meter"),),
            settings=(SettingEntry("set_c", "160", self.at(10.2), "no clumps"),),
            checks=(CheckEntry("kept", "sealed"),),
        )
        self._extrude()
        self._notes()
        return self

    def _extrude(self) -> None:
        fed = self.codes["dry dried flake"]
        self.run(
            "extrude",
            12,
            stage="extrude",
            machine="Long",
            inputs=(DrawEntry(fed, 4_000_000),),
            outputs=tuple(
                OutputEntry(
                    "filament", 1_000_000, colour="clear", spool=SpoolEntry(tare_mg=210_000)
                )
                for _ in range(3)
            )
            + (OutputEntry("start-up scrap", 350_000),),
            heel=HeelEntry(500_000),
            losses=(LossEntry("volatiles", 5_000, "estimated from a table"),),
            feeds=(FeedEntry(self.at(12.1), fed, 4_000_000),),
            settings=(
                SettingEntry("zone_1_c", "255", self.at(12.1), "bubbles"),
                SettingEntry("zone_1_c", "260", self.at(12.4), "smooth"),
            ),
        )

    def _notes(self) -> None:
        spool = self.codes["extrude first filament"]
        verdict_give(self.actor, VerdictEntry(spool, False, ("brittle",), "snaps on the reel"))
        lot_event(self.actor, LotEventEntry(spool, "opened", self.at(30), "shelf 3"))
        hold_place(self.actor, HoldEntry(self.codes["quay bag 1"], "smells of fuel", True))
        shred = run_page(self.actor, self.codes["shred"])
        flake = next(one for one in shred.postings if one.lot == self.codes["shred flake"])
        posting_correct(self.actor, CorrectionEntry(flake.posting, 6_010_000, "read upside down"))
        opened = RunEntry(stage="sort", started_at=self.at(32), inputs=(self.draw("school bag 2"),))
        self.codes["open"] = run_open(self.actor, opened).code


def open_workshop(slug: str = "quay", username: str = "ines") -> Actor:
    return workshop_open(
        WorkshopEntry(
            name=f"Workshop {slug}",
            slug=slug,
            lead_name="Inês",
            username=username,
            password=PASSWORD,
            zone="Europe/Lisbon",
        )
    )
