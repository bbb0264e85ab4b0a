"""State: the shapes of stored facts and the rules that one row must obey."""

from recycling.models.answers import Answer
from recycling.models.archives import WorkshopArchive
from recycling.models.attempts import Attempt
from recycling.models.changes import ChangeEvent
from recycling.models.compositions import Composition
from recycling.models.energy import (
    EnergyChunk,
    EnergyFactor,
    EnergyFile,
    EnergyMeter,
    EnergyTariff,
    MachinePart,
    MachinePhase,
    MeterReading,
    PartTime,
    PowerBlock,
)
from recycling.models.findings import KeptFinding
from recycling.models.holds import Hold
from recycling.models.imports import ImportFile
from recycling.models.jobs import Job
from recycling.models.links import PublicLink
from recycling.models.logs import Feed, RunCheck, RunSetting
from recycling.models.lots import Lot, LotEvent, Spool
from recycling.models.machines import Container, Machine, Scale
from recycling.models.measurements import FilamentReading, ParticleSample
from recycling.models.members import DeviceKey, Member, User
from recycling.models.origins import Origin
from recycling.models.passwords import PasswordLink
from recycling.models.polymers import Polymer
from recycling.models.practice import Barrel, Changeover, MaterialData, Practice, ProcessingWindow
from recycling.models.reconciliations import ReconciledFlow, Reconciliation
from recycling.models.reports import FrozenReport, Report, ReportFile, ReportLink
from recycling.models.runs import Counted, Draw, Run, RunOperator
from recycling.models.samples import BottleSample
from recycling.models.sources import Programme, Source
from recycling.models.tablets import MemberPin, SharedTablet, TabletRule
from recycling.models.told import ToldEnergy
from recycling.models.verdicts import Verdict, VerdictPhoto
from recycling.models.weighings import Weighing
from recycling.models.workshops import Workshop

__all__ = [
    "Answer",
    "Attempt",
    "Barrel",
    "BottleSample",
    "ChangeEvent",
    "Changeover",
    "Composition",
    "Container",
    "Counted",
    "DeviceKey",
    "Draw",
    "EnergyChunk",
    "EnergyFactor",
    "EnergyFile",
    "EnergyMeter",
    "EnergyTariff",
    "Feed",
    "FilamentReading",
    "FrozenReport",
    "Hold",
    "ImportFile",
    "Job",
    "KeptFinding",
    "Lot",
    "LotEvent",
    "Machine",
    "MachinePart",
    "MachinePhase",
    "MaterialData",
    "Member",
    "MemberPin",
    "MeterReading",
    "Origin",
    "PartTime",
    "ParticleSample",
    "PasswordLink",
    "Polymer",
    "PowerBlock",
    "Practice",
    "ProcessingWindow",
    "Programme",
    "PublicLink",
    "ReconciledFlow",
    "Reconciliation",
    "Report",
    "ReportFile",
    "ReportLink",
    "Run",
    "RunCheck",
    "RunOperator",
    "RunSetting",
    "Scale",
    "SharedTablet",
    "Source",
    "Spool",
    "TabletRule",
    "ToldEnergy",
    "User",
    "Verdict",
    "VerdictPhoto",
    "Weighing",
    "Workshop",
    "WorkshopArchive",
]
