"""What adds up: now, posting by posting, stage by stage, and over a period."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from api.answers import AuditDone
from api.asking import LIMIT, PERIOD, POLYMER, moment, number
from api.doors import Door, lists, shows
from recycling.queries.audit import audit
from recycling.queries.balance import balance_now, flows, statement
from recycling.queries.energy_stages import stages_with_energy
from recycling.queries.postings import postings_after
from recycling.queries.stock import stock
from recycling.records.actors import Actor
from recycling.records.balance import BalanceNow, Flow, Statement
from recycling.records.lots import PostingRow
from recycling.records.paging import Page
from recycling.records.stage_energy import StageWithEnergy
from recycling.records.stock import Stock

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

    @lists(PostingRow, AFTER_POSTING, LIMIT)
    def get(self, actor: Actor, after: int = 0, limit: int = 200) -> Page[PostingRow]:
        """List every posting in the order of the book."""
        return postings_after(actor, after, limit)


class BalanceStagesApi(Door):
    needs = {"GET": "read"}

    @lists(StageWithEnergy, *PERIOD, POLYMER)
    def get(self, actor: Actor, **asked: Any) -> list[StageWithEnergy]:
        """Add up what each stage took, gave and lost in a period, with its energy."""
        return stages_with_energy(actor, **asked)


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


class StockApi(Door):
    needs = {"GET": "read"}

    @shows(Stock, rows_of=lambda found: found.rows)
    def get(self, actor: Actor) -> Stock:
        """Show what is on hand by form and polymer, on hold, and in process."""
        return stock(actor)


class AuditApi(Door):
    needs = {"GET": "read"}

    @shows(AuditDone, rows_of=lambda done: done.findings)
    def get(self, actor: Actor) -> AuditDone:
        """Check the invariants of the book now, for this workshop."""
        findings = tuple(audit(actor.workshop_id))
        return AuditDone(not findings, findings)
