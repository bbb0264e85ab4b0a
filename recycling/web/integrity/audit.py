"""The invariants of the book, checked now."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from recycling.queries.integrity.audit import audit as audit_query
from recycling.records.actors import Actor
from recycling.records.setup.register import Finding
from recycling.web.pages.read import csv_answer, csv_url, reading, show, wants_csv

COLUMNS = ("invariant", "subject", "detail")
INVARIANTS = {
    1: _("Nothing appears or vanishes: the postings of every entry and every run add up."),
    2: _("No lot goes below zero at any moment of its history."),
    3: _("The lots run in no circle: nothing is made of itself."),
    4: _("Everything has origins: each lot's make-up adds up to its mass."),
    5: _("Nothing is erased: the guards stand and no entry is missing."),
    8: _("Workshops do not meet: nothing here refers to another workshop."),
    9: _("The book closes: all accounts together add up to zero."),
    10: _("What is stored for speed equals what the postings say."),
}
"""Numbers of ``docs/concepts/invariants.md`` that can be checked on what is stored."""


@reading
def audit(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    findings = audit_query(actor.workshop_id)
    if wants_csv(request):
        rows = ((one.invariant, one.subject, one.detail) for one in findings)
        return csv_answer(f"audit-{actor.slug}", COLUMNS, rows)
    broken: dict[int, list[Finding]] = defaultdict(list)
    for finding in findings:
        broken[finding.invariant].append(finding)
    context: dict[str, Any] = {
        "findings": findings,
        "invariants": [
            {"number": number, "text": text, "findings": broken.get(number, [])}
            for number, text in INVARIANTS.items()
        ],
        "checked_at": timezone.now(),
        "csv": csv_url(request),
    }
    return show(request, "integrity/audit.html", "reports", **context)
