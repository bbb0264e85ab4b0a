"""Pages of a run that is recorded whole, opened, or counted; made from the stage's declaration."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from recycling.records.actors import Actor
from recycling.records.recorded import RunRecorded
from recycling.records.runs.entries import RunEntry
from recycling.services.lots.lots_count import lots_count
from recycling.services.runs.run_open import run_open
from recycling.services.runs.run_record import run_record
from recycling.stages import COUNTING, first_of, stage
from recycling.stages.declaration import RECEIVED, Stage
from recycling.web.book_words import said, stage_said
from recycling.web.forms.choices import Choices
from recycling.web.forms.forms import Part
from recycling.web.forms.judged import Judged, judged
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.forms.sentences import (
    doubted,
    gain_warning,
    part_undo,
    run_saved,
    run_sentence,
    unusual,
)
from recycling.web.forms.stages import cautions_of, crumbs_of, receive_page
from recycling.web.runs.draw_parts import MOST_TAPPED, WHOLE, Draws
from recycling.web.runs.log_parts import Checks, Counts, Settings
from recycling.web.runs.loss_parts import Losses
from recycling.web.runs.output_parts import Heel, Outputs
from recycling.web.runs.run_parts import Feeds, ModelChoice, Place, Times, Workers, counted_at
from recycling.web.templatetags.look import mass_text

GIVEN = (
    "inputs",
    "outputs",
    "losses",
    "heel",
    "feeds",
    "settings",
    "checks",
    "counts",
    "composition_model",
)


def declared_stage(key: str) -> Stage:
    """Find a stage by its key in any case; a page for one that is not there does not exist."""
    declared = stage(key.lower())
    if declared is None:
        raise Http404(f"no stage {key}")
    return declared


def run_entry(declared: Stage, values: Any) -> RunEntry:
    """Put the parts of a run's form together."""
    times = values["times"]
    given = {name: values[name] for name in GIVEN if name in values}
    machine = values.get("place", {}).get("machine", "")
    workers = values.get("workers", {})
    return RunEntry(
        declared.key,
        times["started_at"] or times["ended_at"] or timezone.now(),
        times["ended_at"],
        machine=machine,
        operators=workers.get("operators", ()),
        note=workers.get("note", ""),
        **given,
    )


def _whole(declared: Stage, values: Any) -> RunEntry:
    ended_at = values["times"]["ended_at"] or timezone.now()
    return run_entry(declared, {**values, "times": {**values["times"], "ended_at": ended_at}})


def prefilled(request: HttpRequest) -> dict[str, Any]:
    """Choose the lot that the address names, all of it."""
    code = request.GET.get("lot", "")
    return {"inputs-0-lot": code, "inputs-0-all": True} if code else {}


def _initial(request: HttpRequest, choices: Choices) -> dict[str, Any]:
    initial = prefilled(request)
    if not initial:
        return {}
    lot = choices.lot(initial["inputs-0-lot"])
    if lot is None:
        initial["inputs-0-code"] = initial.pop("inputs-0-lot")
    elif lot in choices.lots and len(choices.lots) <= MOST_TAPPED:
        return {WHOLE: request.GET.getlist("lot")}
    return initial


def whole_parts(declared: Stage, choices: Choices) -> list[Part]:
    """Lay out a whole run: who and where, in, out, lost, checked."""
    parts: list[Part] = [Times(), Place(choices, declared), Draws(choices, declared)]
    if declared.keeps_heel:
        parts += [Feeds(choices), ModelChoice()]
    if declared.gives or declared.same_form:
        parts.append(Outputs(choices, declared))
    if declared.losses:
        parts.append(Losses(choices, declared))
    if declared.keeps_heel:
        parts.append(Heel(choices))
    return [*parts, Checks(declared), Settings(declared), Workers(choices)]


@recording("record")
def record_stage(request: HttpRequest, actor: Actor, stage: str) -> HttpResponse:
    """Record a whole run of any stage."""
    declared = declared_stage(stage)
    if declared.border == RECEIVED:
        return receive_page(request, actor, declared)
    if declared.counts:
        return _count(request, actor, declared)
    choices = Choices(actor, declared)

    def deed(acting: Actor, values: Any) -> Judged[RunRecorded]:
        return judged(acting, run_record(acting, _whole(declared, values)))

    sheet = Sheet(
        stage_said(declared.key),
        _("Look it over"),
        whole_parts(declared, choices),
        deed,
        lambda result, values: run_saved(
            actor, result.recorded, said_of(result, values), whole=True
        ),
        review=lambda result, values: review_of(result, values, said_of(result, values)),
        initial=_initial(request, choices),
        context=_context(actor, declared),
        remember=("scale", f"machine_{declared.key}", "operators"),
        stage=declared.key,
    )
    return enter(request, actor, sheet)


def _context(actor: Actor, declared: Stage) -> dict[str, Any]:
    title = stage_said(declared.key)
    context: dict[str, Any] = {
        "lede": _(declared.summary),
        "cautions": cautions_of(declared),
        "crumbs": crumbs_of(actor, title),
    }
    if not declared.border:
        url = reverse("run-open", args=[actor.slug, declared.key])
        context["aside"] = {
            "url": url,
            "label": _("The work begins now: open a run and record as it goes on"),
        }
    return context


def said_of(result: Judged[RunRecorded], values: Any) -> str:
    """Say what a run is, from what was typed and what the book made of it."""
    drawn = [draw.lot for draw in values.get("inputs", ())]
    lost_mg = sum(loss.mass_mg for loss in values.get("losses", ()))
    said_to = [one.value for one in values.get("checks", ()) if one.key == "receiver"]
    return run_sentence(result, drawn, lost_mg, " ".join(said_to))


def review_of(judging: Judged[RunRecorded], values: Any, sentence: str) -> dict[str, Any]:
    """Say before recording what will be recorded, line by line, with a gain flagged."""
    result, sure = judging.recorded, judging.sure_mg
    declared, losses = stage(result.stage), values.get("losses", ())
    kept_mg = sum(lot.mass_mg for lot in result.lots) + sum(loss.mass_mg for loss in losses)
    return {
        "sentence": sentence,
        "result": result,
        "leaves": said(declared.border, "account") if declared and declared.border else "",
        "leaves_mg": result.inputs_mg - kept_mg - (result.unaccounted_mg or 0),
        "closing_mg": abs(result.unaccounted_mg or 0),
        "closing_u_mg": round(judging.half_mg),
        "lots": [
            (lot.form, lot.polymer, lot.role, lot.mass_mg, round(sure.get(lot.code, 0)))
            for lot in result.lots
        ],
        "doubts": result.doubts,
        "notes": unusual(result),
        "losses": [(said(loss.account, "account"), loss.mass_mg) for loss in losses],
        "warning": gain_warning(result.unaccounted_mg),
        "button": _("Record it"),
    }


def _count(request: HttpRequest, actor: Actor, declared: Stage) -> HttpResponse:
    choices = Choices(actor)
    parts: list[Part] = [
        counted_at(),
        Place(choices, declared),
        Counts(choices),
        Checks(declared),
        Workers(choices),
    ]
    sheet = Sheet(
        stage_said(declared.key),
        _("Record the count"),
        parts,
        lambda acting, values: lots_count(acting, count_entry(values)),
        lambda result, _values: count_saved(actor, result),
        initial={"counts-0-lot": request.GET.get("lot", "")},
        context=_context(actor, declared) | {"aside": None},
        remember=("scale", "operators"),
        stage=declared.key,
    )
    return enter(request, actor, sheet)


def count_entry(values: Any) -> RunEntry:
    """Put a count together: it begins and ends at once."""
    at = values["times"]["ended_at"] or timezone.now()
    workers = values.get("workers", {})
    return RunEntry(
        first_of(COUNTING).key,
        at,
        at,
        operators=workers.get("operators", ()),
        counts=values["counts"],
        checks=values.get("checks", ()),
        note=workers.get("note", ""),
    )


def count_saved(actor: Actor, result: RunRecorded) -> Saved:
    """Say by how much the book was set right."""
    missing_mg = result.unaccounted_mg or 0
    text = _("Counted; the book agrees.")
    if missing_mg > 0:
        text = _("Counted; %s was missing and is now unaccounted.") % mass_text(missing_mg)
    elif missing_mg < 0:
        text = _("Counted; %s more was found than the book had.") % mass_text(-missing_mg)
    url = reverse("run", args=[actor.slug, result.code])
    again = reverse("record-stage", args=[actor.slug, result.stage])
    steps = (
        Step(_("Count another lot"), again, primary=True),
        Step(_("See the stock"), reverse("stock", args=[actor.slug])),
    )
    undo = reverse("run-undo", args=[actor.slug, result.code])
    return Saved(result.code, text, steps, shape="run", url=url, undo=undo)


@recording("record")
def run_open_page(request: HttpRequest, actor: Actor, stage: str) -> HttpResponse:
    """Open a run, drawing what is known to go in; the rest is recorded as it goes on."""
    declared = declared_stage(stage)
    if declared.border or declared.counts:
        raise Http404(f"{declared.key} is recorded whole")
    choices = Choices(actor, declared)
    parts: list[Part] = [
        Times(ended=False),
        Place(choices, declared),
        Draws(choices, declared, most=0),
        *([ModelChoice()] if declared.keeps_heel else []),
        Settings(declared),
        Workers(choices),
    ]
    title = _("Open a run: %s") % stage_said(declared.key)
    sheet = Sheet(
        title,
        _("Open the run"),
        parts,
        lambda acting, values: run_open(acting, run_entry(declared, values)),
        lambda result, _values: opened_saved(actor, result),
        initial=_initial(request, choices),
        context=_context(actor, declared) | {"aside": None, "crumbs": crumbs_of(actor, title)},
        remember=("scale", f"machine_{declared.key}", "operators"),
        stage=declared.key,
    )
    return enter(request, actor, sheet)


def opened_saved(actor: Actor, result: RunRecorded) -> Saved:
    """Say that a run goes on, and what can be done in it."""
    text = _("The run is open with %s in it.") % mass_text(result.inputs_mg)
    named = [
        ("run-output", _("Add what came out")),
        ("run-draw", _("Draw more")),
        ("run-note", _("Note a check or setting")),
        ("run-close", _("Close the run")),
    ]
    url = reverse("run", args=[actor.slug, result.code])
    steps = [Step(_("Go to the run"), url, primary=True)]
    steps += [Step(label, reverse(name, args=[actor.slug, result.code])) for name, label in named]
    doubts = doubted(result.doubts)
    notes = unusual(result)
    undo = part_undo(actor, result)
    return Saved(
        result.code, text, tuple(steps), "run", url, warning=doubts, notes=notes, undo=undo
    )
