"""Pages of a run that goes on: draw, add outputs and losses, note, and close."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from recycling.queries.runs.open_runs import run_inside
from recycling.records.actors import Actor
from recycling.records.lots.mass_entries import DrawEntry
from recycling.records.recorded import LotMade, RunRecorded
from recycling.records.runs.open_runs import RunInside
from recycling.services.runs.run_close import run_close
from recycling.services.runs.run_open import run_draw, run_log, run_loss_add, run_output_add
from recycling.stages.declaration import Stage
from recycling.web.forms.choices import Choices
from recycling.web.forms.forms import Part
from recycling.web.forms.judged import Judged, judged
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.forms.sentences import (
    doubted,
    gain_warning,
    listed,
    lost,
    lot_lines,
    masses_by_form,
    part_undo,
    unaccounted,
    unusual,
)
from recycling.web.runs.draw_parts import Draws
from recycling.web.runs.log_parts import Checks, Settings
from recycling.web.runs.loss_parts import Losses
from recycling.web.runs.output_parts import Heel, Outputs
from recycling.web.runs.run_parts import At, Times
from recycling.web.runs.run_record import declared_stage, prefilled, review_of, run_saved
from recycling.web.templatetags.look import mass_text

Lay = Callable[[Choices, Stage, RunInside], Sequence[Part]]
Deed = Callable[[Actor, str, Any], RunRecorded]


def crumbs_in(actor: Actor, code: str, title: str) -> list[tuple[str, str]]:
    url = reverse("run", args=[actor.slug, code])
    return [(_("Runs"), reverse("runs", args=[actor.slug])), (code, url), (title, "")]


def not_open(request: HttpRequest, actor: Actor, run: RunInside, title: str) -> HttpResponse:
    """Say that a page came too late: the run is closed or void."""
    shown = {
        "title": title,
        "run": run,
        "nav": "runs",
        "crumbs": crumbs_in(actor, run.code, title),
        "run_url": reverse("run", args=[actor.slug, run.code]),
    }
    return render(request, "runs/not_open.html", shown, status=409)


def steps_in(actor: Actor, code: str, again: str) -> tuple[Step, ...]:
    """Offer what can be done next in an open run."""
    named = [
        ("run-output", _("Add what came out")),
        ("run-draw", _("Draw more")),
        ("run-loss", _("Add a loss")),
        ("run-note", _("Note a check or setting")),
        ("run-close", _("Close the run")),
    ]
    url = reverse("run", args=[actor.slug, code])
    steps = [Step(_("Go to the run"), url, primary=True)]
    steps += [
        Step(label, reverse(name, args=[actor.slug, code]))
        for name, label in sorted(named, key=lambda one: one[0] != again)
    ]
    return tuple(steps)


def _in_run(
    request: HttpRequest,
    actor: Actor,
    code: str,
    texts: tuple[str, str, str],
    lay: Lay,
    deed: Deed,
    again: str,
    takes: bool = False,
) -> HttpResponse:
    run = run_inside(actor, code)
    title, button, lede = texts
    if run.state != "open" and request.method != "POST":
        return not_open(request, actor, run, title)
    declared = declared_stage(run.stage)
    choices = Choices(actor, declared if takes else None)

    sheet = Sheet(
        title,
        button,
        list(lay(choices, declared, run)),
        lambda acting, values: deed(acting, code, values),
        lambda result, values: _saved_in(actor, result, again),
        initial=_begun(request, takes),
        context={"lede": lede, "crumbs": crumbs_in(actor, run.code, title), "run": run},
        nav="runs",
        back=reverse("run", args=[actor.slug, run.code]),
    )
    return enter(request, actor, sheet)


def _begun(request: HttpRequest, takes: bool) -> dict[str, Any]:
    """Begin the form with what the address asks for: a lot to draw, or a spool that is full."""
    if takes:
        return prefilled(request)
    return {"outputs-0-spool": True} if request.GET.get("spool") else {}


def _saved_in(actor: Actor, result: RunRecorded, again: str) -> Saved:
    inside = _("%s is in the run now.") % mass_text(result.inputs_mg)
    said = _("%s came out.") % masses_by_form(result.lots) if result.lots else ""
    return Saved(
        result.code,
        f"{said} {inside}".strip(),
        steps_in(actor, result.code, again),
        shape="run",
        url=reverse("run", args=[actor.slug, result.code]),
        lines=lot_lines(result.lots),
        warning=f"{gain_warning(result.inputs_mg)} {doubted(result.doubts)}".strip(),
        notes=unusual(result),
        undo=part_undo(actor, result),
    )


def _form_in(run: RunInside) -> str:
    return run.inputs[0].form if run.inputs else ""


@recording("record")
def run_draw_page(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    texts = (_("Draw into the run"), _("Draw it"), _("One lot at a time, as it is fed."))

    def lay(choices: Choices, declared: Stage, run: RunInside) -> list[Part]:
        return [At(), Draws(choices, declared, most=1)]

    def deed(acting: Actor, code: str, values: Any) -> RunRecorded:
        return run_draw(acting, code, values["inputs"] or (DrawEntry(""),), values["at"])

    return _in_run(request, actor, code, texts, lay, deed, "run-draw", takes=True)


@recording("record")
def run_output_page(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    lede = _("Each becomes a lot at once, with a code for its label.")
    texts = (_("Add what came out"), _("Record what came out"), lede)

    def lay(choices: Choices, declared: Stage, run: RunInside) -> list[Part]:
        return [At(), Outputs(choices, declared, _form_in(run))]

    def deed(acting: Actor, code: str, values: Any) -> RunRecorded:
        return run_output_add(acting, code, values["outputs"], values["at"])

    return _in_run(request, actor, code, texts, lay, deed, "run-output")


@recording("record")
def run_loss_page(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    lede = _("Only what was measured or estimated, with how.")
    texts = (_("Add a loss"), _("Record the loss"), lede)

    def lay(choices: Choices, declared: Stage, run: RunInside) -> list[Part]:
        return [At(), Losses(choices, declared)]

    def deed(acting: Actor, code: str, values: Any) -> RunRecorded:
        return run_loss_add(acting, code, values["losses"], values["at"])

    return _in_run(request, actor, code, texts, lay, deed, "run-loss")


@recording("record")
def run_note_page(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    lede = _("Fill in only what was looked at or changed; each keeps its time and your name.")
    texts = (_("Note checks and settings"), _("Note it"), lede)

    def lay(choices: Choices, declared: Stage, run: RunInside) -> list[Part]:
        return [At(), Settings(declared, changed=True), Checks(declared)]

    def deed(acting: Actor, code: str, values: Any) -> RunRecorded:
        return run_log(acting, code, values["checks"], values["settings"])

    return _in_run(request, actor, code, texts, lay, deed, "run-note")


@recording("record")
def run_close_page(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Close a run; its balance is shown first, and again as it will be."""
    run = run_inside(actor, code)
    title = _("Close the run")
    if run.state != "open" and request.method != "POST":
        return not_open(request, actor, run, title)
    declared, choices = declared_stage(run.stage), Choices(actor)
    parts: list[Part] = [Times(began=False), Outputs(choices, declared, _form_in(run))]
    parts += [Losses(choices, declared)] if declared.losses else []
    parts += [Heel(choices)] if declared.keeps_heel else []
    parts.append(Checks(declared, run.noted))

    def deed(acting: Actor, values: Any) -> Judged[RunRecorded]:
        closed = run_close(
            acting,
            code,
            values["times"]["ended_at"],
            values["outputs"],
            values.get("losses", ()),
            values.get("heel"),
            values["checks"],
        )
        return judged(acting, closed)

    sheet = Sheet(
        title,
        _("Look it over"),
        parts,
        deed,
        lambda result, values: run_saved(
            actor, result.recorded, close_sentence(run, result, values)
        ),
        review=lambda result, values: close_review(run, result, values),
        context={
            "lede": _("What is still inside, then what comes out last. The rest is unaccounted."),
            "crumbs": crumbs_in(actor, run.code, title),
            "run": run,
            "balance": balance_of(run),
        },
        nav="runs",
    )
    return enter(request, actor, sheet)


def balance_of(run: RunInside) -> list[tuple[str, int, str]]:
    """List what went in, came out and was lost so far, and what is still inside."""
    lines = [(_("went in"), run.inputs_mg, "input")]
    lines += [(_("came out"), run.outputs_mg, "product")]
    lines += [(_("lost as measured"), run.lost_mg, "loss")]
    return [*lines, (_("still in the run"), run.in_process_mg, "unaccounted")]


def close_review(run: RunInside, judging: Judged[RunRecorded], values: Any) -> dict[str, Any]:
    """Show the close as it will be; a run that gave nothing at all is to be looked at."""
    shown = review_of(judging, values, close_sentence(run, judging, values))
    if not (run.made or judging.recorded.lots):
        shown["nothing_out"] = True
    return shown


def close_sentence(run: RunInside, judging: Judged[RunRecorded], values: Any) -> str:
    """Say what the whole run comes to, with what was recorded before."""
    result = judging.recorded
    lost_mg = run.lost_mg + sum(loss.mass_mg for loss in values.get("losses", ()))
    sums: dict[str, int] = {}
    for form, mass_mg in [*run.made, *((lot.form, lot.mass_mg) for lot in result.lots)]:
        sums[form] = sums.get(form, 0) + mass_mg
    lots = masses_by_form(LotMade("", form, "", "", mass) for form, mass in sums.items())
    rest = (lost(lost_mg), unaccounted(judging))
    said = {
        "lots": lots or _("nothing"),
        "mass": mass_text(result.inputs_mg),
        "codes": listed(one.lot for one in run.inputs),
        "rest": "; ".join(part for part in rest if part),
    }
    return _("%(lots)s from %(mass)s of %(codes)s; %(rest)s.") % said
