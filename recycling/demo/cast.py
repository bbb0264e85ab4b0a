"""Who and what is in the invented workshop."""

from __future__ import annotations

from recycling.records.entries import (
    ContainerEntry,
    MachineEntry,
    MemberEntry,
    ProgrammeEntry,
    ScaleEntry,
    SourceEntry,
    WorkshopEntry,
)
from shared.roles import OPERATOR, VIEWER

PASSWORD = "bottle-to-spool"
"""The same for all three; the demo listens on this computer only."""

WORKSHOP = WorkshopEntry(
    name="Tidemill Filament Workshop",
    slug="tidemill",
    lead_name="Ines Varga",
    username="lead",
    password=PASSWORD,
    zone="Europe/Lisbon",
)
MEMBERS = (
    MemberEntry("operator", "Tomas Okoro", OPERATOR, PASSWORD),
    MemberEntry("viewer", "Mira Sund", VIEWER, PASSWORD),
)
SECOND = WorkshopEntry(
    name="Chapel Yard Bench",
    slug="chapel-yard",
    lead_name="Ines Varga",
    username="lead",
    password=PASSWORD,
    zone="Europe/Lisbon",
)
SECOND_MEMBERS = (MemberEntry("operator", "Tomas Okoro", VIEWER, PASSWORD),)

SCHOOLS, WATERFRONT = "Schools for a clean river", "Bins on the waterfront"
PROGRAMMES = {
    SCHOOLS: ProgrammeEntry(SCHOOLS, "Weir Valley Trust", target_mg=60_000_000),
    WATERFRONT: ProgrammeEntry(WATERFRONT, "Harbour district", target_mg=45_000_000),
}

BIN = "Bottle bin at the tram stop"
SOURCES = (
    SourceEntry("Ferry Lane Primary School", "school", may_be_named=True),
    SourceEntry("Upper Weir Secondary School", "school", may_be_named=True),
    SourceEntry("Bakery on Mill Street", "shop", may_be_named=True),
    SourceEntry("Quayside greengrocer", "shop"),
    SourceEntry("Household in Sailmaker Row", "household", note="Brings a crate every few weeks."),
    SourceEntry("Lantern print studio", "business", may_be_named=True),
    SourceEntry("Otter rowing club", "club", may_be_named=True),
    SourceEntry(BIN, "bin", note="Unattended; anything may be in it."),
    SourceEntry("Harvest street fair", "event", may_be_named=True),
    SourceEntry("Night kitchen at the old depot", "other"),
)
PROGRAMME_OF = {
    "Ferry Lane Primary School": SCHOOLS,
    "Upper Weir Secondary School": SCHOOLS,
    "Otter rowing club": WATERFRONT,
    BIN: WATERFRONT,
    "Harvest street fair": WATERFRONT,
    "Quayside greengrocer": WATERFRONT,
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

PARTNER = "Bench makers' co-operative, Orsby"
USERS = (
    "Ferry Lane Primary School, making club",
    "Upper Weir Secondary School, workshop",
    "Lantern print studio",
    "Otter rowing club, boat shed",
    "Repair evening at the library",
    "Model railway society of Orsby",
)
