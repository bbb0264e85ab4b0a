"""Set-up pages: what entries refer to, listed, with a form to add one more."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from recycling.queries.people.members import members
from recycling.queries.setup import register as setting_up
from recycling.records.actors import Actor
from recycling.records.people import MemberEntry
from recycling.records.setup import entries
from recycling.services.people.workshops import member_add
from recycling.services.setup import register as add
from recycling.stages import STAGES
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording, set_up_crumbs
from recycling.web.setup import fields as laid
from recycling.web.templatetags.look import mass_text
from recycling.web.words import role_name


@dataclass(frozen=True)
class Kind:
    """One kind of thing that entries refer to.

    Attributes
    ----------
    title, one, lede : str
        Its heading, its button, and what it is for.
    listed : callable
        Reads what there is.
    entry : type
        The entry that adds one.
    deed : callable
        The service that adds one.
    lay : callable
        Makes the form's fields by the entry's names.
    columns : tuple
        Headings and how each is read from a record.
    action : str
        Who may add one.
    """

    title: Any
    one: Any
    lede: Any
    listed: Callable[[Actor], Sequence[Any]]
    entry: type
    deed: Callable[[Actor, Any], int]
    lay: Callable[[], dict[str, Any]]
    columns: tuple[tuple[Any, Callable[[Any], Any]], ...]
    action: str = "manage"


def _days(record: Any) -> str:
    days = (record.starts_date, record.ends_date)
    return " – ".join(date_format(day, "SHORT_DATE_FORMAT") for day in days if day)


NAME = (gettext_lazy("Name"), lambda record: record.name)
KINDS: dict[str, Kind] = {
    "sources": Kind(
        gettext_lazy("Sources"),
        gettext_lazy("Add the source"),
        gettext_lazy("Who gives: a school, a shop, a household, an unattended bin."),
        setting_up.sources,
        entries.SourceEntry,
        add.source_add,
        laid.source,
        (
            NAME,
            (gettext_lazy("Kind"), lambda record: laid.source_kind(record.kind)),
            (
                gettext_lazy("May be named"),
                lambda record: _("yes") if record.may_be_named else _("no"),
            ),
        ),
        action="record",
    ),
    "programmes": Kind(
        gettext_lazy("Programmes"),
        gettext_lazy("Add the programme"),
        gettext_lazy("A grant, a school project or a target that collections count towards."),
        setting_up.programmes,
        entries.ProgrammeEntry,
        add.programme_add,
        laid.programme,
        (
            NAME,
            (gettext_lazy("Funder"), lambda record: record.funder),
            (gettext_lazy("Time"), _days),
            (gettext_lazy("Target"), lambda record: mass_text(record.target_mg)),
        ),
    ),
    "machines": Kind(
        gettext_lazy("Machines"),
        gettext_lazy("Add the machine"),
        gettext_lazy("What runs are done on. A machine can keep a heel from run to run."),
        setting_up.machines,
        entries.MachineEntry,
        add.machine_add,
        lambda: laid.machine([one.machine for one in STAGES if one.machine]),
        (
            NAME,
            (gettext_lazy("Kind"), lambda record: _(record.kind)),
            (gettext_lazy("Heel in it"), lambda record: record.heel or _("none")),
        ),
    ),
    "scales": Kind(
        gettext_lazy("Scales"),
        gettext_lazy("Add the scale"),
        gettext_lazy("As on its plate; the uncertainty of a weighing is worked out from it."),
        setting_up.scales,
        entries.ScaleEntry,
        add.scale_add,
        laid.scale,
        (
            NAME,
            (gettext_lazy("Class"), lambda record: record.accuracy_class),
            (gettext_lazy("Interval e"), lambda record: mass_text(record.interval_mg)),
            (gettext_lazy("Largest load"), lambda record: mass_text(record.capacity_mg)),
        ),
    ),
    "containers": Kind(
        gettext_lazy("Containers"),
        gettext_lazy("Add the container"),
        gettext_lazy("Crates, tubs and empty spools with a known tare, for one tap at the scale."),
        setting_up.containers,
        entries.ContainerEntry,
        add.container_add,
        laid.container,
        (NAME, (gettext_lazy("Tare"), lambda record: mass_text(record.tare_mg))),
        action="record",
    ),
    "polymers": Kind(
        gettext_lazy("Polymers"),
        gettext_lazy("Add the polymer"),
        gettext_lazy("By the symbols of ISO 1043-1; each counts under its own."),
        setting_up.polymers,
        entries.PolymerEntry,
        add.polymer_add,
        laid.polymer,
        (
            (gettext_lazy("Symbol"), lambda record: record.code),
            NAME,
            (gettext_lazy("Resin code"), lambda record: record.resin_code or "–"),
            (gettext_lazy("Density, g/cm³"), laid.density_said),
        ),
    ),
    "members": Kind(
        gettext_lazy("Members"),
        gettext_lazy("Take the person in"),
        gettext_lazy("Leads set up and release, operators record, viewers read."),
        members,
        MemberEntry,
        member_add,
        laid.member,
        (NAME, (gettext_lazy("Role"), lambda record: role_name(record.role))),
    ),
}


KEPT_WHOLE = ("polymers",)
"""Kinds that are added to only."""


class OneEntry:
    """Fields that fill an entry name by name."""

    key = "entry"

    def __init__(self, kind: Kind) -> None:
        self.kind = kind

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("entry", self.kind.one).rows.append(row)
        for name, field in self.kind.lay().items():
            form.add(row, name, field)

    def read(self, form: EntryForm) -> Any:
        given = {}
        for one in fields(self.kind.entry):
            form.point(f"/{one.name}", "", itself=one.name)
            value = form.cleaned_data.get(one.name)
            if value not in (None, ""):
                given[one.name] = value
        return self.kind.entry(**{**_empty(self.kind), **given})


def _empty(kind: Kind) -> dict[str, str]:
    """What a text field is when nothing was typed; the deed says what is missing."""
    return {name: "" for name in ("name", "code", "username", "role", "kind") if _has(kind, name)}


def _has(kind: Kind, name: str) -> bool:
    return any(one.name == name for one in fields(kind.entry))


def _cells(actor: Actor, kind: str, one: Kind, record: Any) -> list[Any]:
    """Show a record in cells; a machine leads to its page."""
    cells = [read(record) for _heading, read in one.columns]
    if kind == "machines":
        url = reverse("machine", args=[actor.slug, record.id])
        cells[0] = format_html('<a href="{}">{}</a>', url, cells[0])
    return cells


def _listed(actor: Actor, kind: str, one: Kind) -> Sequence[Any]:
    """List what there is, and after it what is no longer offered."""
    if kind in KEPT_WHOLE:
        return one.listed(actor)
    return sorted(one.listed(actor, everything=True), key=_gone)  # type: ignore[call-arg]


def _gone(record: Any) -> bool:
    return getattr(record, "retired", False) or not getattr(record, "active", True)


def _line(actor: Actor, kind: str, one: Kind, record: Any) -> dict[str, Any]:
    changed = actor.may(one.action) and kind not in KEPT_WHOLE
    given = [record.id] if kind == "members" else [kind, record.id]
    name = "member-change" if kind == "members" else "set-up-change"
    return {
        "cells": _cells(actor, kind, one, record),
        "name": getattr(record, "name", ""),
        "url": reverse(name, args=[actor.slug, *given]) if changed else "",
        "gone": _gone(record),
    }


def _steps(actor: Actor, kind: str, added: int) -> tuple[Step, ...]:
    """Say what comes after something was added."""
    steps = [Step(_("Add another"), reverse("set-up-add", args=[actor.slug, kind]), primary=True)]
    if kind == "sources":
        new = reverse("collection-new", args=[actor.slug])
        steps.append(Step(_("Record a collection"), new))
    if kind == "members":
        link = reverse("member-password", args=[actor.slug, added])
        steps.append(Step(_("Make a link to a new password"), link))
    return (*steps, Step(_("Back to the set-up"), reverse("set-up", args=[actor.slug])))


@recording("read")
def set_up_add(request: HttpRequest, actor: Actor, kind: str) -> HttpResponse:
    """List one kind, and add to it where the person may."""
    one = KINDS.get(kind)
    if one is None:
        raise Http404(kind)
    url = reverse("set-up-add", args=[actor.slug, kind])
    may = actor.may(one.action)
    sheet = Sheet(
        str(one.title),
        str(one.one),
        [OneEntry(one)],
        lambda acting, values: one.deed(acting, values["entry"]),
        lambda result, values: Saved(
            values["entry"].code if kind == "polymers" else values["entry"].name,
            _("Added to: %s.") % one.title,
            _steps(actor, kind, result),
            url=url,
        ),
        context={
            "crumbs": set_up_crumbs(actor, str(one.title)),
            "lede": str(one.lede),
            "headings": [heading for heading, _read in one.columns],
            "lines": [_line(actor, kind, one, record) for record in _listed(actor, kind, one)],
            "may": may,
        },
        template="setup/set_up_kind.html",
        nav="set-up",
    )
    return enter(request, actor, sheet)
