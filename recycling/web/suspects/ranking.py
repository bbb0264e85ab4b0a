"""The evidence of all judged spools: who is suspected, on what grounds, under which assumptions."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from recycling.queries.setup.register import polymers
from recycling.queries.suspects.findings import findings
from recycling.queries.suspects.ranking import suspects as suspects_query
from recycling.records.actors import Actor
from recycling.records.suspects.findings import FindingEntry
from recycling.records.suspects.ranking import Suspects
from recycling.services.suspects import finding_keep
from recycling.web.pages.press import done_once, pressing, say_refused
from recycling.web.pages.read import csv_answer, csv_url, reading, wants_csv
from recycling.web.suspects import figures, words
from recycling.web.suspects.asking import STARTING, AskForm, asked
from shared.errors import Refused

LINES = 10
EVERY_LINE = 100_000
COLUMNS = (
    "rank",
    "candidates",
    "posterior",
    "bad with it",
    "good with it",
    "bad without",
    "good without",
    "odds ratio",
    "Fisher p",
    "adjusted p",
    "log10 Bayes factor",
)
SPOOL_COLUMNS = (
    "spool",
    "standing",
    "good verdicts",
    "bad verdicts",
    "share of the first line",
    "rests on",
)


def _codes(actor: Actor) -> list[str]:
    return [one.code for one in polymers(actor)]


@reading
def suspects(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    form = asked(request, _codes(actor))
    if not form.is_valid():
        return _page(request, form, None, 422)
    table = wants_csv(request)
    limit = EVERY_LINE if table == "rows" else LINES
    found = suspects_query(actor, form.question, form.priors, limit)
    if table == "spools":
        rows = [
            (one.lot, one.standing, one.good, one.bad, one.share, one.rests_on)
            for one in found.spools
        ]
        return csv_answer(f"judged-spools-{actor.slug}", SPOOL_COLUMNS, rows)
    if table:
        return csv_answer(f"suspects-{actor.slug}", COLUMNS, map(_cells, found.rows))
    return _page(request, form, found, findings=findings(actor)[:5])


def _cells(row: Any) -> tuple[object, ...]:
    return (
        row.rank,
        "; ".join(words.candidate_named(one) for one in row.members),
        f"{row.posterior:.6f}",
        row.exposed_bad,
        row.exposed_good,
        row.unexposed_bad,
        row.unexposed_good,
        "" if row.odds_ratio is None else f"{row.odds_ratio:.4g}",
        f"{row.p_value:.4g}",
        f"{row.adjusted_p_value:.4g}",
        f"{row.bayes_factor_log10:.3f}",
    )


def _page(
    request: HttpRequest, form: AskForm, found: Suspects | None, status: int = 200, **more: Any
) -> HttpResponse:
    believed = any(request.GET.get(name) not in (None, STARTING[name]) for name in STARTING)
    context = {"form": form, "nav": "suspects", "believed": believed, **more}
    if found:
        context |= shown(found) | {
            "rows_csv": csv_url(request, "rows"),
            "curve": figures.curve(form.priors),
            "asked": request.GET.urlencode(),
            "kept_fields": [(name, value) for name, held in request.GET.lists() for value in held],
        }
        if found.rows:
            context["figure"] = figures.exposures(found, csv_url(request, "spools"))
    return render(request, "suspects/suspects.html", context, status=status)


def shown(found: Suspects) -> dict[str, Any]:
    """Give what the templates of an answer show."""
    return {
        "found": found,
        "state_word": words.STATES[found.state],
        "main_words": words.main_words(found),
        "side_words": words.side_words(found),
    }


@pressing("record")
def keep(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Keep the finding as it was asked for, with its data."""
    form = asked(request, _codes(actor))
    if not form.is_valid():
        return _page(request, form, None, 422)
    title, note = request.POST.get("title", ""), request.POST.get("note", "")
    entry = FindingEntry(title, form.question, form.priors, note)
    try:
        number = done_once(request, actor, lambda acting: finding_keep(acting, entry).number)
    except Refused as refused:
        say_refused(request, refused)
        found = suspects_query(actor, form.question, form.priors, LINES)
        return _page(request, form, found, refused.status, typed_title=title, typed_note=note)
    messages.success(request, _("Kept. It does not change any more."))
    return redirect(reverse("finding", args=[actor.slug, number]))
