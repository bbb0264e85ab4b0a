"""What was or will be recorded, in a plain sentence, and what comes next."""

from __future__ import annotations

from collections.abc import Iterable
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.calc.balance.usual_loss import STATES
from recycling.queries.setup.practice import needs_drying_of
from recycling.records.actors import Actor
from recycling.records.balance.doubts import EntryDoubt
from recycling.records.recorded import LotMade, OriginRecorded, RunRecorded
from recycling.stages import STAGES, asking_polymer, stage
from recycling.stages.declaration import PRODUCT, RECIRCULATE
from recycling.web.book_words import stage_said
from recycling.web.forms.judged import Judged
from recycling.web.forms.saying import Saved, Step
from recycling.web.languages import in_language
from recycling.web.templatetags.look import mass_text, uncertainty_text, word_for


def listed(parts: Iterable[str]) -> str:
    """Put pieces into one phrase: a, b and c."""
    *first, last = list(parts) or [""]
    return (
        _("%(first)s and %(last)s") % {"first": ", ".join(first), "last": last} if first else last
    )


def masses_by_form(lots: Iterable[LotMade]) -> str:
    """Say masses by form: 4.310 kg of clean bottles and 212 g of caps."""
    sums: dict[str, int] = {}
    for lot in lots:
        sums[lot.form] = sums.get(lot.form, 0) + lot.mass_mg
    return listed(
        _("%(mass)s of %(form)s") % {"mass": mass_text(mass), "form": word_for(form, "form")}
        for form, mass in sums.items()
    )


def unaccounted(run: Judged[RunRecorded]) -> str:
    """Say what closes a run, and whether the weighings explain it."""
    mass_mg = run.recorded.unaccounted_mg
    if mass_mg is None:
        return ""
    if not mass_mg:
        return _("nothing unaccounted")
    named = _("%s more came out than went in") if mass_mg < 0 else _("%s unaccounted")
    said = named % mass_text(abs(mass_mg))
    if not run.state:
        return said
    how = {
        STATES[0]: _("within weighing"),
        STATES[1]: _("as is usual here"),
        STATES[2]: _("not as usual here"),
        STATES[3]: _("far from what is usual here"),
    }[run.state]
    return f"{said}, {how} (± {uncertainty_text(round(run.half_mg))})"


def gain_warning(mass_mg: int | None) -> str:
    """Say what to look at when more came out than went in."""
    if mass_mg is None or mass_mg >= 0:
        return ""
    return _(
        "More came out than went in. That may be water taken up, a tare left out, or something"
        " not drawn. It is recorded as a gain; check the weighings."
    )


def run_sentence(
    run: Judged[RunRecorded], drawn: Iterable[str], lost_mg: int, receiver: str = ""
) -> str:
    """Say what a whole run is: what came of what, what was lost, what is unaccounted."""
    result = run.recorded
    codes = listed(drawn)
    lots = masses_by_form(result.lots)
    said = {"lots": lots, "mass": mass_text(result.inputs_mg), "codes": codes}
    if lots:
        sentence = _("%(lots)s from %(mass)s of %(codes)s") % said
    else:
        sentence = _("%(mass)s of %(codes)s") % said
    if receiver:
        sentence = _("%(what)s to %(receiver)s") % {"what": sentence, "receiver": receiver}
    rest = unaccounted(run) if lots or result.unaccounted_mg else ""
    return "; ".join(part for part in (sentence, lost(lost_mg), rest) if part) + "."


def lost(lost_mg: int) -> str:
    """Say what was measured as lost, or taken up."""
    if not lost_mg:
        return ""
    named = _("%s lost as measured") if lost_mg > 0 else _("%s taken up")
    return named % mass_text(abs(lost_mg))


def lot_lines(lots: Iterable[LotMade]) -> tuple[tuple[str, str, str], ...]:
    return tuple((lot.code, lot.form, mass_text(lot.mass_mg)) for lot in lots)


def stage_steps(actor: Actor, lots: Iterable[LotMade], done: str = "") -> list[Step]:
    """Offer the stages that usually take what was just made, that of the product first.

    A stage that keeps the form, such as washing, comes last, and the one just done not at all.
    """
    made = sorted(lots, key=lambda lot: lot.role != PRODUCT)
    steps: list[Step] = []
    for lot in made[:1]:
        alike = [one.code for one in made if one.form == lot.form and one.role == lot.role]
        needs = needs_drying_of(actor)(lot.polymer) if asking_polymer(lot.form) else None
        fitting = [
            one
            for one in STAGES
            if one.works and one.key != done and one.usually_takes(lot.form, needs)
        ]
        new = [one for one in fitting if not one.gives_back(lot.form)][:2]
        again = [one for one in fitting if one.gives_back(lot.form) and one.least_lots < 2]
        for one in dict.fromkeys(new + again):
            label = _("%(stage)s it") if len(alike) < 2 else _("%(stage)s them")
            label %= {"stage": stage_said(one.key)}
            steps.append(Step(label, _record_url(actor, one.key, alike), primary=not steps))
    return steps


def _record_url(actor: Actor, stage: str, lots: list[str]) -> str:
    asked = f"?{urlencode({'lot': lots}, doseq=True)}" if lots else ""
    return reverse("record-stage", args=[actor.slug, stage]) + asked


def _sealed_steps(actor: Actor, result: RunRecorded) -> list[Step]:
    """Ask after drying whether it is sealed: hot dry flake takes water up again within the hour."""
    declared = stage(result.stage)
    if declared is None or not declared.dries:
        return []
    dried = [lot for lot in result.lots if lot.role == PRODUCT]
    note = _("Left open it takes up water again: feed it soon, or seal it now.")
    return [
        Step(
            _("%s is sealed") % lot.code,
            reverse("lot-event", args=[actor.slug, lot.code]) + "?kind=sealed",
            note,
        )
        for lot in dried
    ]


def origin_saved(actor: Actor, result: OriginRecorded) -> Saved:
    again, label = {
        "collection": ("collection-new", _("Record another collection")),
        "purchase": ("purchase-new", _("Record another purchase")),
        "opening": ("opening-new", _("Count something else in")),
    }[result.kind]
    total = sum(lot.mass_mg for lot in result.lots)
    said = ngettext(
        "%(mass)s recorded: %(what)s, as %(count)d lot.",
        "%(mass)s recorded: %(what)s, as %(count)d lots.",
        len(result.lots),
    )
    text = said % {
        "mass": mass_text(total),
        "what": masses_by_form(result.lots),
        "count": len(result.lots),
    }
    steps = [
        *stage_steps(actor, result.lots),
        Step(label, reverse(again, args=[actor.slug]), primary=False),
        Step(_("See %s") % result.code, reverse("collection", args=[actor.slug, result.code])),
    ]
    return Saved(
        result.code,
        text,
        tuple(steps),
        shape=result.lots[0].form,
        url=reverse("collection", args=[actor.slug, result.code]),
        lines=lot_lines(result.lots),
        warning=doubted(result.doubts),
        undo=reverse("run-undo", args=[actor.slug, result.run]),
    )


def part_undo(actor: Actor, result: RunRecorded) -> str:
    """Give the address that undoes what was just recorded of a run that goes on."""
    if result.undo_until is None:
        return ""
    until = urlencode({"until": result.undo_until.isoformat()})
    return f"{reverse('run-undo', args=[actor.slug, result.code])}?{until}"


def doubted(doubts: Iterable[EntryDoubt]) -> str:
    """Say what should be looked at again."""
    return " ".join(capfirst(in_language(doubt.said)) for doubt in doubts)


def unusual(result: RunRecorded) -> tuple[str, ...]:
    """Say what was unusual about a run."""
    return tuple(in_language(one.said) for one in result.deviations)


def run_saved(actor: Actor, result: RunRecorded, text: str, whole: bool = False) -> Saved:
    """Say what a run was, with its lots and what comes next; one recorded whole can be undone."""
    run_url = reverse("run", args=[actor.slug, result.code])
    again = [lot.code for lot in result.lots if lot.role == RECIRCULATE]
    steps = [
        *_sealed_steps(actor, result),
        *stage_steps(actor, result.lots, result.stage),
        Step(_("%s again") % stage_said(result.stage), _record_url(actor, result.stage, again)),
        Step(_("See run %s") % result.code, run_url),
    ]
    return Saved(
        result.code,
        text,
        tuple(steps),
        shape="run",
        url=run_url,
        lines=lot_lines(result.lots),
        warning=f"{gain_warning(result.unaccounted_mg)} {doubted(result.doubts)}".strip(),
        notes=unusual(result),
        undo=reverse("run-undo", args=[actor.slug, result.code]) if whole else "",
    )
