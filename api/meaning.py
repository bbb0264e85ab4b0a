"""What the figures mean: how runs close, how sure masses are, yields, models, reconciliation."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from api.asking import (
    PAGING,
    PERIOD,
    POLYMER,
    STAGE,
    choice,
    flag,
    text,
)
from api.doors import Door, lists, records, shows
from recycling.calc.closure import STATES
from recycling.queries.closures import NOT_WITHIN, closures
from recycling.queries.models_compared import models_compared
from recycling.queries.reconciliations import (
    reconciled_flows,
    reconciliation,
    reconciliations,
)
from recycling.queries.weighings import samples, weighings
from recycling.queries.yields import GROUPS, yields
from recycling.records.actors import Actor
from recycling.records.closures import Closures
from recycling.records.known_masses import (
    ModelsCompared,
    SampleEntry,
    SampleRecord,
    WeighingOverview,
)
from recycling.records.paging import Page
from recycling.records.reconciliations import Reconciled, ReconciledRow, ReconciliationEntry
from recycling.records.recorded import ModelChosen
from recycling.records.yields import Yields
from recycling.services.reconciliation import reconciliation_start
from recycling.services.run_model import run_model_choose
from recycling.services.samples import sample_add

CLOSES = choice("state", "How the run closes.", (*STATES, NOT_WITHIN))
BY = choice("by", "What the rows are grouped by.", GROUPS)
MACHINE = text("machine", "Name of the machine.")
RUN_RULES = flag("run_rules", "Look for runs and trends on the chart too.")
SUSPECTS = flag("suspects", "Only weighings that were set aside.")


@dataclass(frozen=True)
class ModelBody:
    """How the origins of what a run gave are to be computed.

    Attributes
    ----------
    composition_model : str
        "well mixed" or "feed order".
    reason : str
        Why.
    """

    composition_model: str
    reason: str


class ClosuresApi(Door):
    needs = {"GET": "read"}

    @shows(Closures, *PERIOD, STAGE, CLOSES, *PAGING, rows_of=lambda found: found.rows)
    def get(self, actor: Actor, **asked: Any) -> Closures:
        """List runs of a period by how they close, the worst first."""
        return closures(actor, **asked)


class WeighingsApi(Door):
    needs = {"GET": "read"}

    @shows(WeighingOverview, *PERIOD, rows_of=lambda found: found.doubtful)
    def get(self, actor: Actor, **asked: Any) -> WeighingOverview:
        """Total the masses of a period by how they became known; as CSV, those to doubt."""
        return weighings(actor, **asked)


class SamplesApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @lists(SampleRecord)
    def get(self, actor: Actor) -> list[SampleRecord]:
        """List samples of bottles by name."""
        return samples(actor)

    @records(SampleEntry, SampleRecord)
    def post(self, actor: Actor, entry: SampleEntry) -> SampleRecord:
        """Keep a sample of bottles, each weighed by itself."""
        added = sample_add(actor, entry)
        return next(one for one in samples(actor) if one.id == added)


class YieldsApi(Door):
    needs = {"GET": "read"}

    @shows(
        Yields, *PERIOD, BY, STAGE, MACHINE, POLYMER, RUN_RULES, rows_of=lambda found: found.rows
    )
    def get(self, actor: Actor, **asked: Any) -> Yields:
        """Work out the yields of a period, their chart for a stage, and where the mass went."""
        return yields(actor, **asked)


class RunModelApi(Door):
    needs = {"GET": "read", "POST": "correct"}

    @shows(ModelsCompared, rows_of=lambda found: found.lots)
    def get(self, actor: Actor, code: str) -> ModelsCompared:
        """Compose what a run gave well mixed and in feed order, side by side."""
        return models_compared(actor, code)

    @records(ModelBody, ModelChosen, status=200)
    def post(self, actor: Actor, body: ModelBody, code: str) -> ModelChosen:
        """Choose how the origins of what a run gave are computed."""
        return run_model_choose(actor, code, body.composition_model, body.reason)


class ReconciliationsApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @lists(Reconciled)
    def get(self, actor: Actor) -> list[Reconciled]:
        """List the latest reconciliations, newest first."""
        return reconciliations(actor)

    @records(ReconciliationEntry, Reconciled, status=202)
    def post(self, actor: Actor, entry: ReconciliationEntry) -> Reconciled:
        """Reconcile a period in the background; ask for it by its number."""
        return reconciliation(actor, reconciliation_start(actor, entry))


class ReconciliationApi(Door):
    needs = {"GET": "read"}

    @shows(Reconciled)
    def get(self, actor: Actor, number: int) -> Reconciled:
        """Show a reconciliation: how far it is, its tests, and its suspects."""
        return reconciliation(actor, number)


class ReconciliationFlowsApi(Door):
    needs = {"GET": "read"}

    @lists(ReconciledRow, SUSPECTS, *PAGING)
    def get(self, actor: Actor, number: int, **asked: Any) -> Page[ReconciledRow]:
        """List the flows of a reconciliation, as weighed and as reconciled."""
        return reconciled_flows(actor, number, **asked)
