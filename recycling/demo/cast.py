"""Who and what is in the invented workshop."""

from __future__ import annotations

from recycling.records.people import MemberEntry, WorkshopEntry
from recycling.records.setup.entries import (
    ContainerEntry,
    MachineEntry,
    ProgrammeEntry,
    ScaleEntry,
    SourceEntry,
)
from shared.roles import OPERATOR, VIEWER

PASSWORD = "bottle-to-spool"
"""The same for all three; the demo listens on this computer only."""

WORKSHOP = WorkshopEntry(
    name="Tidemill Filament Workshop",
    slug="tidemill",
    lead_name="Ines Tidewhistle",
    username="lead",
    password=PASSWORD,
    zone="Europe/Lisbon",
)
MEMBERS = (
    MemberEntry("operator", "Tomas Lanternby", OPERATOR, PASSWORD),
    MemberEntry("viewer", "Mira Quillbrook", VIEWER, PASSWORD),
)
SECOND = WorkshopEntry(
    name="Chapel Yard Bench",
    slug="chapel-yard",
    lead_name="Ines Tidewhistle",
    username="lead",
    password=PASSWORD,
    zone="Europe/Lisbon",
)
SECOND_MEMBERS = (MemberEntry("operator", "Tomas Lanternby", VIEWER, PASSWORD),)

SCHOOLS, WATERFRONT = "Schools for a clean river", "Bins on the waterfront"
PROGRAMMES = {
    SCHOOLS: ProgrammeEntry(SCHOOLS, "Moonsluice Valley Trust", target_mg=60_000_000),
    WATERFRONT: ProgrammeEntry(WATERFRONT, "District of Snailquay", target_mg=45_000_000),
}

BIN = "Bottle bin at the tram stop"
SOURCES = (
    SourceEntry("Quillbrook-on-Stilts School", "school", may_be_named=True),
    SourceEntry("Moonsluice Upper School", "school", may_be_named=True),
    SourceEntry("Bakery at Lantern Weir", "shop", may_be_named=True),
    SourceEntry("Greengrocer on Snailquay", "shop"),
    SourceEntry("Household in Teapot Row", "household", note="Brings a crate every few weeks."),
    SourceEntry("Inkwhistle print studio", "business", may_be_named=True),
    SourceEntry("Paper-boat rowing club", "club", may_be_named=True),
    SourceEntry(BIN, "bin", note="Unattended; anything may be in it."),
    SourceEntry("Lampion street fair", "event", may_be_named=True),
    SourceEntry("Night kitchen at the old depot", "other"),
)
PROGRAMME_OF = {
    "Quillbrook-on-Stilts School": SCHOOLS,
    "Moonsluice Upper School": SCHOOLS,
    "Paper-boat rowing club": WATERFRONT,
    BIN: WATERFRONT,
    "Lampion street fair": WATERFRONT,
    "Greengrocer on Snailquay": WATERFRONT,
}

TUB, CUTTER, SHREDDER, SIEVE = "Wash tub", "Drum cutter", "Two-shaft shredder", "Round sieve"
DRYER, EXTRUDER, WINDER = "Cabinet dryer", "Bench extruder", "Spool winder"
MACHINES = (
    MachineEntry(TUB, "wash tub"),
    MachineEntry(CUTTER, "cutter"),
    MachineEntry(SHREDDER, "shredder"),
    MachineEntry(SIEVE, "sieve", "Mesh of 4 mm."),
    MachineEntry(DRYER, "dryer"),
    MachineEntry(EXTRUDER, "extruder", "One screw, four zones."),
    MachineEntry(WINDER, "winder"),
)

PLATFORM, BENCH, BALANCE = "Platform scale", "Bench scale", "Spool balance"
SCALES = (
    ScaleEntry(PLATFORM, interval_mg=20_000, capacity_mg=60_000_000),
    ScaleEntry(BENCH, interval_mg=2_000, capacity_mg=15_000_000),
    ScaleEntry(BALANCE, interval_mg=100, capacity_mg=4_000_000, accuracy_class="II"),
)
STEP_MG = {scale.name: scale.interval_mg for scale in SCALES}

CRATE, TUB_TARE, SACK = "Grey crate", "White tub", "Woven sack"
CONTAINERS = (
    ContainerEntry(CRATE, 1_840_000),
    ContainerEntry(TUB_TARE, 412_000),
    ContainerEntry(SACK, 120_000),
)
TARE_MG = {container.name: container.tare_mg for container in CONTAINERS}

PARTNER = "Bench makers' co-operative, Farglimmer"
USERS = (
    "Quillbrook-on-Stilts School, making club",
    "Moonsluice Upper School, workshop",
    "Inkwhistle print studio",
    "Paper-boat rowing club, boat shed",
    "Repair evening at the library",
    "Model railway society of Farglimmer",
)
