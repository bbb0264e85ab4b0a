"""Pages that put right: correct a typed figure, void a run."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import formats, timezone
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.queries.runs.open_runs import figure_typed, later_runs, run_inside
from recycling.records.actors import Actor
from recycling.records.lots.lots import PostingRow
from recycling.records.recorded import Corrected
from recycling.records.runs.entries import CorrectionEntry
from recycling.records.runs.open_runs import RunInside
from recycling.services.runs.corrections import posting_correct
from recycling.services.runs.undo import correction_undo, run_undo
from recycling.services.runs.void import run_void
from recycling.stages import declared_of
from recycling.web.book_words import said, stage_said
from recycling.web.forms.fields import MassField, tick
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.forms.reason import Reason
from recycling.web.runs.run_open import crumbs_in
from recycling.web.templatetags.look import mass_text


class Tick:
    """Something that is done besides, when it is ticked."""

    def __init__(self, key: str, label: str, hint: str, ticked: bool) -> None:
        self.key, self.label, self.hint, self.ticked = key, label, hint, ticked

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section(self.key).rows.append(row)
        form.add(row, self.key, tick(self.label, help_text=self.hint))
        form.initial.setdefault(self.key, self.ticked)

    def read(self, form: EntryForm) -> bool:
        form.point(f"/{self.key}", "", itself=self.key)
        return form.cleaned_data[self.key]


def _follows(runs: tuple[tuple[str, str], ...]) -> Tick:
    named = ", ".join(f"{stage_said(stage)} {code}" for code, stage in runs)
    label = _("Let what took the lot whole follow: %s") % named
    hint = _("It took all there was, whatever that was. What was weighed stays as it is.")
    return Tick("flow", label, hint, ticked=True)


def _review(result: Corrected, button: str) -> dict[str, Any]:
    """Show what would change, figure by figure, before anything does."""
    return {
        "review_table": "runs/figure_changes.html",
        "result": result,
        "sentence": _("All of this is one deed; the old figures stay readable."),
        "button": button,
    }


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
    title, button = _("Correct a figure"), _("Post the correction")
    parts = [_follows(figure.following)] if figure.following else []
    sheet = Sheet(
        title,
        button,
        [NewFigure(), *parts, Reason(_("Why it was wrong"))],
        lambda acting, values: posting_correct(
            acting,
            CorrectionEntry(
                row.posting, values["mass_mg"], values["reason"], values.get("flow", False)
            ),
        ),
        lambda result, _values: corrected_saved(actor, row, result),
        review=(lambda result, _values: _review(result, button)) if parts else None,
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
    undo = reverse("posting-undo", args=[actor.slug, row.posting])
    return Saved(row.lot or result.run, text, tuple(steps), url=url, undo=undo)


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
    later, button = later_runs(actor, run.code), _("Void the run")
    label = _("Void with it all that was made of what it gave")
    hint = _("You see all of it before anything happens.")
    parts = [Tick("with_descendants", label, hint, ticked=False)] if later else []
    sheet = Sheet(
        title,
        button,
        [*parts, Reason(_("Why it is void"))],
        lambda acting, values: run_void(
            acting, code, values["reason"], values.get("with_descendants", False)
        ),
        lambda result, _values: _voided(actor, run, result),
        review=(lambda result, _values: _review(result, button)) if parts else None,
        context={
            "crumbs": crumbs_in(actor, run.code, title),
            "lede": _(
                "Everything it posted is posted back. It stays readable as void; to correct one"
                " figure only, correct that figure instead."
            ),
            "run": run,
            "later": later,
            "stop": True,
        },
        nav="runs",
    )
    return enter(request, actor, sheet)


def _voided(actor: Actor, run: RunInside, result: Corrected) -> Saved:
    text = _("The run is void. What it drew is back in its lots.")
    url = reverse("run", args=[actor.slug, result.run])
    steps = [Step(_("See run %s") % result.run, url, primary=True)]
    if not declared_of(run.stage).own_page:
        again = reverse("record-stage", args=[actor.slug, run.stage])
        steps.append(Step(_("Record it anew"), again))
    return Saved(result.run, text, tuple(steps), shape="run", url=url)


@recording("record")
def run_undo_page(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Take back what was just recorded: one press on the page that said so."""
    run = run_inside(actor, code)
    title = _("Undo")
    whole = _("Everything it posted is posted back. It stays readable as void.")
    last = _("What was recorded last of this run is taken back. It stays readable.")
    until = parse_datetime(request.GET.get("until", "").replace(" ", "+"))
    sheet = Sheet(
        title,
        title,
        [],
        lambda acting, _values: run_undo(acting, code, until),
        lambda result, _values: (
            _voided(actor, run, result) if result.voided else _undone(actor, result)
        ),
        context={
            "crumbs": crumbs_in(actor, run.code, title),
            "lede": last if run.state == "open" else whole,
            "run": run,
        },
        nav="runs",
    )
    return enter(request, actor, sheet)


@recording("record")
def posting_undo_page(request: HttpRequest, actor: Actor, posting: int) -> HttpResponse:
    """Take back the last correction of a figure: one press on the page that said so."""
    row = figure_typed(actor, posting).first
    title = _("Undo")
    sheet = Sheet(
        title,
        title,
        [],
        lambda acting, _values: correction_undo(acting, row.posting),
        lambda result, _values: _undone(actor, result),
        context={"crumbs": crumbs_in(actor, row.run, title), "lede": _what(row)},
        nav="runs",
    )
    return enter(request, actor, sheet)


def _undone(actor: Actor, result: Corrected) -> Saved:
    url = reverse("run", args=[actor.slug, result.run])
    steps = (Step(_("See run %s") % result.run, url, primary=True),)
    return Saved(result.run, _("Undone: the book says what it said before."), steps, url=url)
