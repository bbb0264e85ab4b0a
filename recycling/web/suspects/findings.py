"""Findings that were kept: a list, one as it was, and its data to check and to pass on."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render

from recycling.queries.suspects.findings import finding_data, finding_page
from recycling.queries.suspects.findings import findings as findings_query
from recycling.records.actors import Actor
from recycling.web.pages.read import reading
from recycling.web.suspects import figures
from recycling.web.suspects.ranking import shown


@reading
def findings(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    context = {"nav": "suspects", "findings": findings_query(actor)}
    return render(request, "suspects/findings.html", context)


@reading
def finding(request: HttpRequest, actor: Actor, number: int) -> HttpResponseBase:
    kept = finding_page(actor, number)
    context = {"nav": "suspects", "kept": kept, **shown(kept.suspects)}
    context["curve"] = figures.curve(kept.suspects.priors)
    if kept.suspects.rows:
        context["figure"] = figures.exposures(kept.suspects)
    return render(request, "suspects/finding.html", context)


@reading
def data(request: HttpRequest, actor: Actor, number: int) -> HttpResponseBase:
    """Give the data letter by letter, so that its SHA-256 can be taken again."""
    answer = HttpResponse(finding_data(actor, number), content_type="application/json")
    answer["Content-Disposition"] = f'attachment; filename="finding-{number}.json"'
    return answer
