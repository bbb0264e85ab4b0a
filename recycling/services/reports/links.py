"""Give a report a public address, and take it away again."""

from __future__ import annotations

import secrets
from datetime import timedelta

from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.models import Report, ReportLink
from recycling.queries.people.names import Names
from recycling.queries.people.tokens import digest_of, token_for
from recycling.records.actors import Actor
from recycling.records.reports.rows import ReportLinkRow
from recycling.reports.asked import body_of, report_named
from recycling.reports.consent import may_be_public
from recycling.reports.public import link_row
from recycling.tables.reports.json_file import read_report
from shared.errors import Refused, Unknown
from shared.said import say

USUAL_DAYS, MOST_DAYS = 365, 5 * 365


@deed("publish")
def report_link_give(actor: Actor, code: str, valid_days: int = USUAL_DAYS) -> ReportLinkRow:
    """Make a public address of a report that opens it for a number of days.

    Raises
    ------
    Unknown
        When there is no such report.
    Refused
        When it is not frozen, names a source that has not agreed, or the days make no sense.
    """
    report = report_named(actor.workshop_id, code)
    if report.state != Report.READY:
        raise Refused.because("report-not-frozen", "Only a frozen report can be shown in public.")
    if not 1 <= valid_days <= MOST_DAYS:
        said = say("From 1 to {most} days.", most=MOST_DAYS)
        raise Refused.because("number-out-of-bounds", said, "/valid_days")
    if not may_be_public(actor, read_report(body_of(report.pk))):
        raise Refused.because(
            "consent-missing",
            "This report names a source that has not agreed to be named in public."
            " Note the consent at the source first, or give the file to those it is for.",
        )
    now, seed = timezone.now(), secrets.token_hex(16)
    link = ReportLink.objects.create(
        report=report,
        seed=seed,
        digest=digest_of(token_for(seed)),
        created_at=now,
        created_by=actor.reference,
        expires_at=now + timedelta(days=valid_days),
    )
    keep_change(actor, report.code, "give link", {}, {"link": link.pk})
    return link_row(link, Names(actor.workshop_id), with_token=True)


@deed("publish")
def report_link_revoke(actor: Actor, code: str, link: int) -> str:
    """Take a public address away; it opens nothing any more.

    Raises
    ------
    Unknown
        When no such address is in force.
    """
    report = report_named(actor.workshop_id, code)
    links = ReportLink.objects.filter(report=report, pk=link, revoked_at=None)
    if not links.update(revoked_at=timezone.now(), revoked_by=actor.reference):
        said = say("No such public address of {code} is in force.", code=report.code)
        raise Unknown.because("link-unknown", said)
    keep_change(actor, report.code, "revoke link", {"link": link}, {})
    return report.code
