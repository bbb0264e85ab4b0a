"""What a person or a program enters: the same shapes behind every form and every request."""

from recycling.records.lots.mass_entries import (
    BagEntry,
    CountEntry,
    DrawEntry,
    HeelEntry,
    LossEntry,
    OriginEntry,
    OutputEntry,
    SpoolEntry,
    WeighingEntry,
)
from recycling.records.people import KeyEntry, MemberEntry, WorkshopEntry
from recycling.records.runs.entries import (
    CheckEntry,
    CorrectionEntry,
    FeedEntry,
    HoldEntry,
    LotEventEntry,
    RunEntry,
    SettingEntry,
    VerdictEntry,
)
from recycling.records.setup.entries import (
    ContainerEntry,
    MachineEntry,
    PolymerEntry,
    ProgrammeEntry,
    ScaleEntry,
    SourceEntry,
)

__all__ = [
    "BagEntry",
    "CheckEntry",
    "ContainerEntry",
    "CorrectionEntry",
    "CountEntry",
    "DrawEntry",
    "FeedEntry",
    "HeelEntry",
    "HoldEntry",
    "KeyEntry",
    "LossEntry",
    "LotEventEntry",
    "MachineEntry",
    "MemberEntry",
    "OriginEntry",
    "OutputEntry",
    "PolymerEntry",
    "ProgrammeEntry",
    "RunEntry",
    "ScaleEntry",
    "SettingEntry",
    "SourceEntry",
    "SpoolEntry",
    "VerdictEntry",
    "WeighingEntry",
    "WorkshopEntry",
]
