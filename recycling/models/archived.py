"""Which facts the archive of a workshop holds, in the order in which they are put back.

A new model stands here, or in ``LEFT_OUT`` with the reason; a test asks for it.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.db import models

from recycling.ledger.models import Account, Book, Entry, Posting
from recycling.models import (
    balance,
    energy,
    exchange,
    integrity,
    labels,
    lists,
    people,
    quality,
    reports,
    suspects,
)
from recycling.models.lots import lots, runs
from recycling.models.setup import practice, register


@dataclass(frozen=True)
class ArchivedKind:
    """A kind of fact, the way from it to its workshop, and fields that are kept elsewhere."""

    model: type[models.Model]
    way: str
    without: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Name of its file in the archive."""
        return self.model._meta.model_name or ""

    @property
    def fields(self) -> list[models.Field]:
        """The stored fields that the archive holds."""
        return [one for one in self.model._meta.concrete_fields if one.attname not in self.without]


WORKSHOP, LOT, RUN = "workshop_id", "lot__workshop_id", "run__workshop_id"
ARCHIVED = (
    ArchivedKind(Book, "pk"),
    ArchivedKind(people.Workshop, "pk"),
    ArchivedKind(people.Member, WORKSHOP, without=("user_id", "name")),
    ArchivedKind(people.TabletRule, WORKSHOP),
    ArchivedKind(register.Polymer, WORKSHOP),
    ArchivedKind(register.Scale, WORKSHOP),
    ArchivedKind(register.Container, WORKSHOP),
    ArchivedKind(register.Machine, WORKSHOP),
    ArchivedKind(register.Source, WORKSHOP),
    ArchivedKind(register.Programme, WORKSHOP),
    ArchivedKind(balance.BottleSample, WORKSHOP),
    ArchivedKind(practice.Practice, WORKSHOP),
    ArchivedKind(practice.ProcessingWindow, WORKSHOP),
    ArchivedKind(practice.MaterialData, WORKSHOP),
    ArchivedKind(practice.Barrel, "machine__workshop_id"),
    ArchivedKind(practice.Changeover, WORKSHOP),
    ArchivedKind(Account, "book_id"),
    ArchivedKind(runs.Origin, WORKSHOP),
    ArchivedKind(runs.Run, WORKSHOP),
    ArchivedKind(runs.RunOperator, RUN),
    ArchivedKind(lots.Lot, WORKSHOP),
    ArchivedKind(lots.Spool, LOT),
    ArchivedKind(runs.Draw, RUN),
    ArchivedKind(runs.Counted, RUN),
    ArchivedKind(Posting, "account__book_id"),
    ArchivedKind(Entry, "book_id"),
    ArchivedKind(balance.Weighing, "posting__account__book_id"),
    ArchivedKind(balance.FigureDoubt, WORKSHOP),
    ArchivedKind(lots.Composition, LOT),
    ArchivedKind(lots.LotEvent, LOT),
    ArchivedKind(lots.RunSetting, RUN),
    ArchivedKind(lots.RunCheck, RUN),
    ArchivedKind(lots.Feed, RUN),
    ArchivedKind(lots.RunDeviation, RUN),
    ArchivedKind(lots.ParticleSample, LOT),
    ArchivedKind(lots.FilamentReading, LOT),
    ArchivedKind(energy.MachinePart, "machine__workshop_id"),
    ArchivedKind(energy.PartTime, "part__machine__workshop_id"),
    ArchivedKind(energy.MachinePhase, "machine__workshop_id"),
    ArchivedKind(energy.MeterReading, "machine__workshop_id"),
    ArchivedKind(energy.EnergyMeter, "machine__workshop_id"),
    ArchivedKind(energy.PowerBlock, "machine__workshop_id"),
    ArchivedKind(energy.EnergyFile, WORKSHOP),
    ArchivedKind(energy.EnergyChunk, "file__workshop_id"),
    ArchivedKind(energy.EnergyTariff, WORKSHOP),
    ArchivedKind(energy.EnergyFactor, WORKSHOP),
    ArchivedKind(lots.Hold, WORKSHOP),
    ArchivedKind(quality.DeclaredCheck, WORKSHOP),
    ArchivedKind(quality.SecondChoice, LOT),
    ArchivedKind(quality.Verdict, LOT),
    ArchivedKind(quality.VerdictPhoto, "verdict__lot__workshop_id"),
    ArchivedKind(labels.PublicLink, WORKSHOP),
    ArchivedKind(suspects.KeptFinding, WORKSHOP),
    ArchivedKind(reports.Report, WORKSHOP),
    ArchivedKind(reports.FrozenReport, WORKSHOP),
    ArchivedKind(reports.ReportFile, "frozen__workshop_id"),
    ArchivedKind(reports.ReportLink, "report__workshop_id"),
    ArchivedKind(balance.Reconciliation, WORKSHOP),
    ArchivedKind(balance.ReconciledFlow, "reconciliation__workshop_id"),
    ArchivedKind(lists.ImportFile, WORKSHOP),
    ArchivedKind(lists.ImportLine, "file__workshop_id"),
    ArchivedKind(lists.ListAnswer, WORKSHOP),
    ArchivedKind(exchange.ToldEnergy, RUN),
    ArchivedKind(people.ChangeEvent, WORKSHOP),
    ArchivedKind(people.Answer, WORKSHOP),
)
LEFT_OUT: dict[type[models.Model], str] = {
    people.User: "accounts and passwords belong to the service, not to the workshop",
    people.UserSession: "who is signed in where is of this service alone",
    people.DeviceKey: "keys are secrets; the service that takes the workshop in gives new ones",
    people.SharedTablet: "tokens of tablets are secrets; tablets are shared anew",
    people.MemberPin: "PINs are secrets; everybody sets a new one",
    people.PasswordLink: "links to a new password are secrets of this service",
    people.SecondStep: "second steps are of accounts and secret; everybody sets one up anew",
    people.RecoveryCode: "recovery codes are secrets of this service",
    people.EarlierName: "what somebody was called before is no other service's to know",
    people.Erasure: "who was erased in this service; an archive made since holds them erased",
    people.Attempt: "how often somebody tried something, for some minutes",
    integrity.WorkshopArchive: "files of this service that expire; each would hold all before it",
    integrity.Job: "work that this service has still to do",
}
"""Models without a place in the archive, each with the reason."""
