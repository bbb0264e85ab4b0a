"""Which facts the archive of a workshop holds, in the order in which they are put back.

A new model stands here, or in ``LEFT_OUT`` with the reason; a test asks for it.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.db import models

from recycling.ledger.models import Account, Book, Entry, Posting
from recycling.models import balance as reconciliations
from recycling.models import balance as samples
from recycling.models import balance as weighings
from recycling.models import energy, reports
from recycling.models import exchange as told
from recycling.models import integrity as archives
from recycling.models import integrity as jobs
from recycling.models import labels as links
from recycling.models import lists as imports
from recycling.models import people as answers
from recycling.models import people as attempts
from recycling.models import people as changes
from recycling.models import people as members
from recycling.models import people as passwords
from recycling.models import people as tablets
from recycling.models import people as workshops
from recycling.models import quality as verdicts
from recycling.models import suspects as findings
from recycling.models.lots import lots, runs
from recycling.models.lots import lots as compositions
from recycling.models.lots import lots as holds
from recycling.models.lots import lots as logs
from recycling.models.lots import lots as measurements
from recycling.models.lots import runs as origins
from recycling.models.setup import practice
from recycling.models.setup import register as machines
from recycling.models.setup import register as polymers
from recycling.models.setup import register as sources


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
    ArchivedKind(workshops.Workshop, "pk"),
    ArchivedKind(members.Member, WORKSHOP, without=("user_id", "name")),
    ArchivedKind(tablets.TabletRule, WORKSHOP),
    ArchivedKind(polymers.Polymer, WORKSHOP),
    ArchivedKind(machines.Scale, WORKSHOP),
    ArchivedKind(machines.Container, WORKSHOP),
    ArchivedKind(machines.Machine, WORKSHOP),
    ArchivedKind(sources.Source, WORKSHOP),
    ArchivedKind(sources.Programme, WORKSHOP),
    ArchivedKind(samples.BottleSample, WORKSHOP),
    ArchivedKind(practice.Practice, WORKSHOP),
    ArchivedKind(practice.ProcessingWindow, WORKSHOP),
    ArchivedKind(practice.MaterialData, WORKSHOP),
    ArchivedKind(practice.Barrel, "machine__workshop_id"),
    ArchivedKind(practice.Changeover, WORKSHOP),
    ArchivedKind(Account, "book_id"),
    ArchivedKind(origins.Origin, WORKSHOP),
    ArchivedKind(runs.Run, WORKSHOP),
    ArchivedKind(runs.RunOperator, RUN),
    ArchivedKind(lots.Lot, WORKSHOP),
    ArchivedKind(lots.Spool, LOT),
    ArchivedKind(runs.Draw, RUN),
    ArchivedKind(runs.Counted, RUN),
    ArchivedKind(Posting, "account__book_id"),
    ArchivedKind(Entry, "book_id"),
    ArchivedKind(weighings.Weighing, "posting__account__book_id"),
    ArchivedKind(compositions.Composition, LOT),
    ArchivedKind(lots.LotEvent, LOT),
    ArchivedKind(logs.RunSetting, RUN),
    ArchivedKind(logs.RunCheck, RUN),
    ArchivedKind(logs.Feed, RUN),
    ArchivedKind(logs.RunDeviation, RUN),
    ArchivedKind(measurements.ParticleSample, LOT),
    ArchivedKind(measurements.FilamentReading, LOT),
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
    ArchivedKind(holds.Hold, WORKSHOP),
    ArchivedKind(verdicts.Verdict, LOT),
    ArchivedKind(verdicts.VerdictPhoto, "verdict__lot__workshop_id"),
    ArchivedKind(links.PublicLink, WORKSHOP),
    ArchivedKind(findings.KeptFinding, WORKSHOP),
    ArchivedKind(reports.Report, WORKSHOP),
    ArchivedKind(reports.FrozenReport, WORKSHOP),
    ArchivedKind(reports.ReportFile, "frozen__workshop_id"),
    ArchivedKind(reports.ReportLink, "report__workshop_id"),
    ArchivedKind(reconciliations.Reconciliation, WORKSHOP),
    ArchivedKind(reconciliations.ReconciledFlow, "reconciliation__workshop_id"),
    ArchivedKind(imports.ImportFile, WORKSHOP),
    ArchivedKind(told.ToldEnergy, RUN),
    ArchivedKind(changes.ChangeEvent, WORKSHOP),
    ArchivedKind(answers.Answer, WORKSHOP),
)
LEFT_OUT: dict[type[models.Model], str] = {
    members.User: "accounts and passwords belong to the service, not to the workshop",
    members.DeviceKey: "keys are secrets; the service that takes the workshop in gives new ones",
    tablets.SharedTablet: "tokens of tablets are secrets; tablets are shared anew",
    tablets.MemberPin: "PINs are secrets; everybody sets a new one",
    passwords.PasswordLink: "links to a new password are secrets of this service",
    attempts.Attempt: "how often somebody tried something, for some minutes",
    archives.WorkshopArchive: "files of this service that expire; each would hold all before it",
    jobs.Job: "work that this service has still to do",
}
"""Models without a place in the archive, each with the reason."""
