"""Pages that put right: correct a typed figure, void a run."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import formats, timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.queries.runs.open_runs import figure_typed, later_runs, run_inside
from recycling.records.actors import Actor
from recycling.records.lots.lots import PostingRow
from recycling.records.recorded import Corrected
from recycling.records.runs.entries import CorrectionEntry
from recycling.records.runs.open_runs import RunInside
from recycling.services.runs.corrections import posting_correct, run_void
from recycling.web.book_words import said, stage_said
from recycling.web.forms.fields import MassField
from recycling.web.forms.forms import EntryForm, Reason, Row
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.runs.run_open import crumbs_in
from recycling.web.templatetags.look import mass_text


class NewFigure:
    """What the figure should have been."""

    key = "mass_mg"

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("figure").rows.append(row)
        hint = _("0 when it was not there at all.")
        field = MassField(_("What it should have been"), zero=True, required=True, help_text=hint)
        form.add(row, "mass", field)

    def read(self, form: EntryForm) -> int:
        form.point("/mass_mg", "", itself="mass")
        return form.cleaned_data["mass"]


def _line(one: PostingRow) -> dict[str, str]:
    """Say of a figure or a correction what it posted, when, by whom and why."""
    sign = "" if one.corrects is None else "+" if one.mass_mg > 0 else "−"
    when = formats.date_format(timezone.localtime(one.written_at), "SHORT_DATETIME_FORMAT")
    size = mass_text(abs(one.mass_mg))
    return {"mass": f"{sign}{size}", "when": when, "who": one.by, "reason": one.reason}


def _what(row: PostingRow) -> str:
    place = row.lot or said(row.account, "account")
    return _("%(place)s in run %(run)s, %(stage)s") % {
        "place": place,
        "run": row.run,
        "stage": stage_said(row.stage),
    }


@recording("correct")
def posting_correct_page(request: HttpRequest, actor: Actor, posting: int) -> HttpResponse:
    """Correct a figure: the old one is shown, the new one and the reason are asked for."""
    figure = figure_typed(actor, posting)
    row = figure.first
    title = _("Correct a figure")
    sheet = Sheet(
        title,
        _("Post the correction"),
        [NewFigure(), Reason(_("Why it was wrong"))],
        lambda acting, values: posting_correct(
            acting, CorrectionEntry(row.posting, values["mass_mg"], values["reason"])
        ),
        lambda result, _values: corrected_saved(actor, row, result),
        context={
            "crumbs": crumbs_in(actor, row.run, title),
            "lede": _what(row),
            "old_mg": figure.now_mg,
            "figures": [_line(one) for one in figure.history],
            "note": _(
                "The difference is posted with your name and reason. The old figure stays"
                " readable, and what descends from it is worked out anew."
            ),
        },
        nav="runs",
        initial=_likely(request.GET.get("likely", "")),
    )
    return enter(request, actor, sheet)


def _likely(mass_mg: str) -> dict[str, str]:
    """Propose the figure that a link names, in grams; nothing where it names none."""
    if not (mass_mg.isascii() and mass_mg.isdigit() and len(mass_mg) <= 12):
        return {}
    return {"mass": f"{int(mass_mg) / 1000:.12g} g"}


def corrected_saved(actor: Actor, row: PostingRow, result: Corrected) -> Saved:
    text = _("Corrected from %(before)s to %(after)s.") % {
        "before": mass_text(result.before_mg),
        "after": mass_text(result.after_mg),
    }
    if result.waiting_runs:
        waiting = ngettext(
            "%d run that descends from it is being recalculated.",
            "%d runs that descend from it are being recalculated.",
            result.waiting_runs,
        )
        text = f"{text} {waiting % result.waiting_runs}"
    url = reverse("run", args=[actor.slug, result.run])
    steps = [Step(_("See run %s") % result.run, url, primary=True)]
    if row.lot:
        lot_url = reverse("lot", args=[actor.slug, row.lot])
        steps.append(Step(_("See lot %s") % row.lot, lot_url))
    return Saved(row.lot or result.run, text, tuple(steps), url=url)


@recording("void")
def run_void_page(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Void a run by opposite postings, with a reason."""
    run = run_inside(actor, code)
    title = _("Void the run")
    if run.state == "void" and request.method != "POST":
        shown: dict[str, Any] = {
            "title": title,
            "run": run,
            "nav": "runs",
            "crumbs": crumbs_in(actor, run.code, title),
            "run_url": reverse("run", args=[actor.slug, run.code]),
        }
        return render(request, "runs/not_open.html", shown, status=409)
    sheet = Sheet(
        title,
        _("Void the run"),
        [Reason(_("Why it is void"))],
        lambda acting, values: run_void(acting, code, values["reason"]),
        lambda result, _values: _voided(actor, run, result),
        context={
            "crumbs": crumbs_in(actor, run.code, title),
            "lede": _(
                "Everything it posted is posted back. It stays readable as void; to correct one"
                " figure only, correct that figure instead."
            ),
            "run": run,
            "later": later_runs(actor, run.code),
            "stop": True,
        },
        nav="runs",
    )
    return enter(request, actor, sheet)


def _voided(actor: Actor, run: RunInside, result: Corrected) -> Saved:
    text = _("The run is void. What it drew is back in its lots.")
    url = reverse("run", args=[actor.slug, result.run])
    steps = [Step(_("See run %s") % result.run, url, primary=True)]
    if run.stage not in ("receive", "count"):
        again = reverse("record-stage", args=[actor.slug, run.stage])
        steps.append(Step(_("Record it anew"), again))
    return Saved(result.run, text, tuple(steps), shape="run", url=url)
