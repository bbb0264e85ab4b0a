"""Plan a changeover, keep the plan, and note what it took."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.queries.process.changeovers import changeover_desk, changeover_of
from recycling.queries.process.purges import COMPOUND
from recycling.records.actors import Actor
from recycling.records.process.changeovers import ChangeoverDesk, ChangeoverEntry, UsedEntry
from recycling.records.process.plan_steps import MissingRow
from recycling.services.process import changeover_plan, changeover_used
from recycling.stages import KEEPING_HEELS, first_of
from recycling.web.energy.previews import figure
from recycling.web.forms.entry_parts import EntryFields, machine_crumbs
from recycling.web.forms.fields import MassField, MomentField, NumberField, Typed, choice_field
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.forms.stages import cautions_of
from recycling.web.templatetags.look import mass_text

BESIDE = ("at",)


@recording("read")
def changeover(request: HttpRequest, actor: Actor, machine: int) -> HttpResponse:
    """Show what is in a machine, and earlier changeovers; plan the next one."""
    desk = changeover_desk(actor, machine)
    title = _("Change of plastic")
    shown: dict[str, Any] = {
        "desk": desk,
        "crumbs": machine_crumbs(actor, machine, desk.machine_name, title),
        "cautions": cautions_of(first_of(KEEPING_HEELS)),
        "refit_url": _refit_url(actor, desk),
        "missing": [_lacks(actor, desk.machine, one) for one in desk.missing],
        "may_record": actor.may("record"),
        "may_manage": actor.may("manage"),
    }
    if not desk.held_before or not actor.may("record"):
        return render(
            request, "process/changeover.html", {"nav": "machines", **shown, "title": title}
        )
    sheet = Sheet(
        title,
        _("Make the plan and keep it"),
        [EntryFields(ChangeoverEntry, _asked(desk), machine=machine, beside=BESIDE)],
        lambda acting, values: changeover_plan(acting, values["entry"]),
        lambda result, values: _kept(actor, result, values["entry"].after, desk.machine_name),
        context=shown,
        template="process/changeover.html",
        nav="machines",
    )
    return enter(request, actor, sheet)


def _asked(desk: ChangeoverDesk) -> dict[str, Any]:
    polymers = [(one, one) for one in desk.next_polymers]
    usual = _("Leave empty for the middle of its window.")
    return {
        "after": choice_field(_("Polymer that comes next"), polymers, required=True),
        "start_c": NumberField(
            _("Set temperature now"),
            unit="°C",
            help_text=usual,
            initial=None if desk.last_c is None else f"{desk.last_c:g}",
        ),
        "target_c": NumberField(_("Set temperature for the next one"), unit="°C", help_text=usual),
        "residue_percent": NumberField(
            _("Residue that may be left"),
            unit="%",
            help_text=_("Leave empty for the workshop's own."),
        ),
        "at": MomentField(
            _("When the change was"),
            help_text=_("Leave empty for now; the plan goes from what was in the machine then."),
        ),
    }


def _lacks(actor: Actor, machine: int, one: MissingRow) -> tuple[str, str, str]:
    """Say what a plan lacks, what to do about it, and where."""
    if one.kind == "hold-up":
        url = reverse("barrel-change", args=[actor.slug, machine])
        return one.sentence, _("Enter the barrel contents"), url
    if one.kind == "which compound":
        url = reverse("lot-event", args=[actor.slug, one.material])
        return one.sentence, _("Add a note with its name"), f"{url}?kind=note"
    url = reverse("window-change", args=[actor.slug])
    asked = {"kind": "polymer", "material": one.material} if one.material else {"kind": COMPOUND}
    return one.sentence, _("Enter its temperature range"), f"{url}?{urlencode(asked)}"


def _kept(actor: Actor, plan: int, after: str, machine: str) -> Saved:
    url = reverse("changeover-plan", args=[actor.slug, plan])
    text = _("The plan for %(machine)s to %(after)s is kept.")
    return Saved(
        f"{machine} → {after}",
        text % {"machine": machine, "after": after},
        (Step(_("See the plan"), url, primary=True),),
        url=url,
    )


def _refit_url(actor: Actor, desk: ChangeoverDesk) -> str:
    if desk.refit is None or not actor.may("record"):
        return ""
    url = reverse("barrel-change", args=[actor.slug, desk.machine])
    uses = desk.refit.uses
    source = ngettext("refitted from %d washing", "refitted from %d washings", uses) % uses
    return f"{url}?holdup_g={desk.refit.holdup_g:.1f}&source={source}"


@recording("read")
def changeover_shown(request: HttpRequest, actor: Actor, plan: int) -> HttpResponse:
    """Show a plan that was kept, and beside it what it took."""
    row = changeover_of(actor, plan)
    title = f"{row.before} → {row.after}"
    back = reverse("changeover", args=[actor.slug, row.machine])
    shown = {
        "nav": "machines",
        "row": row,
        "plan": row.plan,
        "title": title,
        "cautions": cautions_of(first_of(KEEPING_HEELS)),
        "may_record": actor.may("record"),
        "crumbs": [(row.machine_name, back), (title, "")],
        "lines": [
            (_("Purge compound"), _grams(row.purge_g), mass_text(row.purge_used_mg)),
            (_("Next plastic"), _grams(row.flush_g), mass_text(row.flush_used_mg)),
        ],
    }
    return render(request, "process/changeover_plan.html", shown)


def _grams(mass_g: float) -> str:
    return f"{figure(mass_g, 0)} g" if mass_g else "–"


@recording("record")
def changeover_took(request: HttpRequest, actor: Actor, plan: int) -> HttpResponse:
    """Note what a changeover took."""
    row = changeover_of(actor, plan)
    title, url = _("What it took"), reverse("changeover", args=[actor.slug, row.machine])
    fields: dict[str, Any] = {}
    if row.purge:
        fields["purge_used_mg"] = MassField(_("Purge compound used"))
    fields |= {
        "flush_used_mg": MassField(_("Next polymer used until the output was clean")),
        "residue_percent": NumberField(
            _("Residue that was left"),
            unit="%",
            help_text=_("Only when it was measured; else the planned one is taken."),
        ),
        "seen": Typed(
            _("What was seen"),
            size="long",
            help_text=_("Streaks, specks, a change of colour; a dead corner empties slowly."),
        ),
    }
    sheet = Sheet(
        title,
        _("Note it"),
        [EntryFields(UsedEntry, fields, changeover=plan)],
        lambda acting, values: changeover_used(acting, values["entry"]),
        lambda _result, _values: Saved(
            f"{row.before} → {row.after}",
            _("What was used stands beside the plan now, and the hold-up is refitted from it."),
            (Step(_("See planned and used"), url, primary=True),),
            url=url,
        ),
        context={
            "lede": _("So that the next plan is nearer to your own barrel."),
            "crumbs": machine_crumbs(actor, row.machine, row.machine_name, title),
        },
        nav="machines",
    )
    return enter(request, actor, sheet)


urlpatterns = [
    path("machines/<int:machine>/changeover/", changeover, name="changeover"),
    path("changeovers/<int:plan>/", changeover_shown, name="changeover-plan"),
    path("changeovers/<int:plan>/used/", changeover_took, name="changeover-used"),
]
