"""What adds up: now, posting by posting, stage by stage, and over a period.

What the figures mean: how runs close, how sure masses are, yields, models, reconciliation.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.urls import path

from api.protocol.asking import (
    LIMIT,
    PAGING,
    PERIOD,
    POLYMER,
    STAGE,
    WITHIN,
    choice,
    flag,
    moment,
    number,
    text,
)
from api.protocol.bodies import NothingBody
from api.protocol.requests import Door, lists, records, shows
from recycling.calc.balance.usual_loss import STATES
from recycling.queries.balance.balance import balance_now, flows, statement
from recycling.queries.balance.closures import NOT_WITHIN, closures
from recycling.queries.balance.doubts import doubts_waiting
from recycling.queries.balance.reconciliations import (
    reconciled_flows,
    reconciliation,
    reconciliations,
)
from recycling.queries.balance.weighings import samples, weighings
from recycling.queries.balance.yields import GROUPS, yields
from recycling.queries.lots.postings import postings_after
from recycling.records.actors import Actor
from recycling.records.balance.balance import BalanceNow, Flow, Statement
from recycling.records.balance.closures import Closures
from recycling.records.balance.doubts import DoubtAnswered, DoubtRow
from recycling.records.balance.known_masses import (
    SampleEntry,
    SampleRecord,
    WeighingOverview,
)
from recycling.records.balance.reconciliations import Reconciled, ReconciledRow, ReconciliationEntry
from recycling.records.balance.yields import Yields
from recycling.records.lots.lots import PostingRow
from recycling.records.paging import Page
from recycling.services.balance.doubts import doubt_answer
from recycling.services.balance.reconciliation import reconciliation_start
from recycling.services.balance.samples import sample_add

AFTER_POSTING = number("after", "Id of the last posting that is known already.", 0, 2**63 - 1)
KNOWN_AT = moment("known_at", "Draw it up from what had been written by then.", "known_at")


def accounts(balance: BalanceNow) -> Iterator[dict[str, Any]]:
    """Give every account of a balance as one row; the masses add up to zero."""
    for lot in balance.lots:
        yield _account("lot", lot.code, lot.form, lot.polymer, lot.mass_mg)
    for run in balance.in_process:
        yield _account("process", run.run, run.stage, run.polymer, run.mass_mg)
    for border in balance.borders:
        yield _account(border.account, "", "", border.polymer, border.mass_mg)


def _account(account: str, code: str, what: str, polymer: str, mass_mg: int) -> dict[str, Any]:
    return {
        "account": account,
        "code": code,
        "what": what,
        "polymer": polymer,
        "mass_mg": mass_mg,
    }


class BalanceNowApi(Door):
    needs = {"GET": "read"}

    @shows(BalanceNow, rows_of=accounts)
    def get(self, actor: Actor) -> BalanceNow:
        """Show every account from one snapshot; it adds up to zero."""
        return balance_now(actor)


class PostingsApi(Door):
    needs = {"GET": "read"}

    @lists(PostingRow, *WITHIN, AFTER_POSTING, LIMIT)
    def get(self, actor: Actor, **asked: Any) -> Page[PostingRow]:
        """List every posting in the order of the book."""
        return postings_after(actor, **asked)


class BalanceStatementApi(Door):
    needs = {"GET": "read"}

    @lists(Statement, *PERIOD, POLYMER, KNOWN_AT)
    def get(self, actor: Actor, **asked: Any) -> list[Statement]:
        """Draw up a period's statement for each polymer and, last, for all together."""
        return statement(actor, **asked)


class BalanceFlowsApi(Door):
    needs = {"GET": "read"}

    @lists(Flow, *PERIOD)
    def get(self, actor: Actor, **asked: Any) -> list[Flow]:
        """Say how much moved between stages in a period."""
        return flows(actor, **asked)


CLOSES = choice("state", "How the run closes.", (*STATES, NOT_WITHIN))
BY = choice("by", "What the rows are grouped by.", GROUPS)
MACHINE = text("machine", "Name of the machine.")
RUN_RULES = flag("run_rules", "Look for runs and trends on the chart too.")
SUSPECTS = flag("suspects", "Only weighings that were set aside.")


class ClosuresApi(Door):
    needs = {"GET": "read"}

    @shows(Closures, *PERIOD, STAGE, CLOSES, *PAGING, rows_of=lambda found: found.rows)
    def get(self, actor: Actor, **asked: Any) -> Closures:
        """List runs of a period by how they close, the worst first."""
        return closures(actor, **asked)


class DoubtsApi(Door):
    needs = {"GET": "read"}

    @lists(DoubtRow)
    def get(self, actor: Actor) -> Page[DoubtRow]:
        """List figures that are likely slips, until they are corrected or said to be right."""
        return Page(doubts_waiting(actor))


class DoubtRightApi(Door):
    needs = {"POST": "record"}

    @records(NothingBody, DoubtAnswered, status=200)
    def post(self, actor: Actor, body: NothingBody, number: int) -> DoubtAnswered:
        """Remember that a figure is right as it stands; it is not asked again."""
        return doubt_answer(actor, number)


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


urlpatterns = [
    path("closures/", ClosuresApi.as_view()),
    path("doubts/", DoubtsApi.as_view()),
    path("doubts/<int:number>/right/", DoubtRightApi.as_view()),
    path("weighings/", WeighingsApi.as_view()),
    path("samples/", SamplesApi.as_view()),
    path("yields/", YieldsApi.as_view()),
    path("reconciliations/", ReconciliationsApi.as_view()),
    path("reconciliations/<int:number>/", ReconciliationApi.as_view()),
    path("reconciliations/<int:number>/flows/", ReconciliationFlowsApi.as_view()),
    path("postings/", PostingsApi.as_view()),
    path("balance/now/", BalanceNowApi.as_view()),
    path("balance/statement/", BalanceStatementApi.as_view()),
    path("balance/flows/", BalanceFlowsApi.as_view()),
]
