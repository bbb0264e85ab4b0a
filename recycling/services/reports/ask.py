"""Ask for a report; it is made in the background and frozen."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

from django.db.models import Max
from django.utils import timezone
from django.utils.translation import get_language

from recycling import jobs
from recycling.keeping.deed import deed
from recycling.keeping.texts import check_text
from recycling.models import Report
from recycling.records.actors import Actor
from recycling.records.reports.question import ReportQuestion
from recycling.records.reports.rows import ReportEntry
from recycling.reports.asked import report_named
from recycling.reports.scope import scope_of
from recycling.tables.reports.json_file import plain_question
from shared.codes import code_for
from shared.errors import Collected, Refused, Unknown
from shared.said import say

TASK = "recycling.make_report"
LONGEST_TITLE, LONGEST_NOTE, LONGEST_LINE, MOST_LINES = 120, 2_000, 120, 8


@deed("report")
def report_ask(actor: Actor, entry: ReportEntry) -> str:
    """Note what is asked, give it a number and start the job; return the report's code.

    Raises
    ------
    Refused
        For each thing that is wrong with the question, or when the report whose place it should
        take cannot be taken.
    """
    question = _question(entry)
    _check_texts(question)
    scope = scope_of(actor, question)
    about: dict[str, Any] = dict.fromkeys(_named_by(question), scope.about)
    question = replace(question, **about)
    place = _place_of(actor, entry.supersedes)
    rows = Report.objects.filter(workshop_id=actor.workshop_id)
    number = (rows.aggregate(last=Max("number"))["last"] or 0) + 1
    report = Report.objects.create(
        workshop_id=actor.workshop_id,
        number=number,
        code=code_for("D", number),
        question=plain_question(question),
        language=get_language() or "en",
        asked_at=timezone.now(),
        asked_by=actor.reference,
        supersedes=place,
    )
    jobs.start(actor.workshop_id, TASK, report=report.pk)
    return report.code


def _named_by(question: ReportQuestion) -> list[str]:
    """Return what the report is about, which a program may have named by id; names are frozen."""
    return [name for name in ("programme", "source") if getattr(question, name)]


def _question(entry: ReportEntry) -> ReportQuestion:
    asked = {**asdict(entry)}
    asked.pop("supersedes")
    texts = {name: asked[name].strip() for name in ("programme", "source", "title", "note")}
    lines = tuple(line.strip() for line in entry.signed_by if line.strip())
    return ReportQuestion(**{**asked, **texts, "signed_by": lines})


def _check_texts(question: ReportQuestion) -> None:
    found = Collected()
    check_text(question.title, "/title", found, LONGEST_TITLE)
    check_text(question.note, "/note", found, LONGEST_NOTE)
    for place, line in enumerate(question.signed_by):
        check_text(line, f"/signed_by/{place}", found, LONGEST_LINE)
    if len(question.signed_by) > MOST_LINES:
        said = say("At most {most} lines to sign on.", most=MOST_LINES)
        found.add("too-many-lines", said, "/signed_by")
    found.refuse()


def _place_of(actor: Actor, code: str) -> Report | None:
    """Find the report whose place is taken; it must be frozen, and the last of its line."""
    if not code.strip():
        return None
    try:
        report = report_named(actor.workshop_id, code.strip())
    except Unknown as unknown:
        raise Refused.because("report-unknown", str(unknown), "/supersedes") from unknown
    if report.state != Report.READY:
        said = say("Report {code} was never frozen, so nothing can take its place.", code=code)
        raise Refused.because("report-not-frozen", said, "/supersedes")
    following = Report.objects.filter(
        supersedes=report, state__in=[Report.MAKING, Report.READY]
    ).first()
    if following is not None:
        raise Refused.because(
            "report-superseded",
            say(
                "Report {code} has been superseded by {later}; supersede that one.",
                code=report.code,
                later=following.code,
            ),
            "/supersedes",
        )
    return report
