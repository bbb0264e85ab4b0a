"""Pages that change, retire and bring back what entries refer to; nothing is deleted."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import asdict, dataclass, fields
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _

from recycling.queries.setup import register as query
from recycling.records.actors import Actor
from recycling.records.setup import changes
from recycling.services.people.erasures import source_erase
from recycling.services.setup import change as service
from recycling.web.forms.fields import tick
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording, set_up_crumbs
from recycling.web.setup import fields as laid
from recycling.web.setup.register import KINDS
from shared.units import show_mass

RETIRED, SEEN = "retired", "seen"


@dataclass(frozen=True)
class Changing:
    """How one kind of thing is changed: its record, its change, the deed, its fields."""

    shown: Callable[[Actor, int], Any]
    change: type
    deed: Callable[[Actor, int, Any], Any]
    lay: Callable[[], dict[str, Any]]
    action: str = "manage"


CHANGING: dict[str, Changing] = {
    "sources": Changing(
        query.source, changes.SourceChange, service.source_change, laid.source, "record"
    ),
    "programmes": Changing(
        query.programme, changes.ProgrammeChange, service.programme_change, laid.programme
    ),
    "machines": Changing(
        query.machine, changes.MachineChange, service.machine_change, lambda: laid.machine(())
    ),
    "scales": Changing(query.scale, changes.ScaleChange, service.scale_change, laid.scale),
    "containers": Changing(
        query.container, changes.ContainerChange, service.container_change, laid.container, "record"
    ),
}


class Changed:
    """Fields that hold what is, and fill a change; what was changed meanwhile is refused."""

    key = "change"

    def __init__(self, kind: Changing, record: Any) -> None:
        self.kind, self.record = kind, record
        self.names = [one.name for one in fields(kind.change)]

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("change").rows.append(row)
        for name, field in self.kind.lay().items():
            if name in self.names:
                form.add(row, name, field)
                form.initial.setdefault(name, _typed(name, getattr(self.record, name)))
        hint = _("It is no longer offered, and stays on everything that was recorded with it.")
        form.add(row, RETIRED, tick(_("Retired"), help_text=hint))
        form.initial.setdefault(RETIRED, self.record.retired)
        form.fields[SEEN] = forms.CharField(required=False, widget=forms.HiddenInput)
        form.initial[SEEN] = self._digest()

    def _digest(self) -> str:
        return hashlib.sha256(repr(self.record).encode()).hexdigest()[:16]

    def read(self, form: EntryForm) -> Any:
        for name in self.names:
            form.point(f"/{name}", "", itself=name)
        given = {name: form.cleaned_data.get(name) for name in self.names if name != "empty"}
        known = {name: getattr(self.record, name) for name in given}
        if form.cleaned_data[SEEN] != self._digest() and known != given:
            said = _("Somebody changed this meanwhile; open it again. It is now: %s") % self._now()
            form.add_error(None, said)
        if "empty" in self.names:
            texts = ("name", "funder")
            given["empty"] = tuple(
                name for name, value in given.items() if value is None and name not in texts
            )
        return self.kind.change(**given)

    def _now(self) -> str:
        values = asdict(self.record).items()
        return ", ".join(f"{name} {_typed(name, one)}" for name, one in values if name != "id")


def _typed(name: str, value: Any) -> Any:
    return show_mass(value) if name.endswith("_mg") and value is not None else value


@recording("manage")
def source_erase_page(request: HttpRequest, actor: Actor, thing: int) -> HttpResponse:
    """Erase the name of somebody who gave."""
    record = query.source(actor, thing)
    list_url = reverse("set-up-add", args=[actor.slug, "sources"])
    back = reverse("set-up-change", args=[actor.slug, "sources", thing])
    crumbs = [(str(KINDS["sources"].title), list_url), (record.name, back), (_("Erase"), "")]
    sheet = Sheet(
        _("Erase %s") % record.name,
        _("Erase for good"),
        [],
        lambda acting, _values: source_erase(acting, thing),
        lambda result, _values: Saved(
            result.name,
            _("Erased. Collections now name this number."),
            (Step(_("Back to the list"), list_url, primary=True),),
            url=list_url,
        ),
        context={
            "lede": _(
                "Name, note and consent go for good; a number stands in the name's place."
                " Weights and collections stay, and reports that are frozen keep what they said."
                " What somebody typed into a note is not found: correct it there."
            ),
            "crumbs": [*set_up_crumbs(actor, "")[:1], *crumbs],
            "stop": True,
        },
        nav="set-up",
    )
    return enter(request, actor, sheet)


@recording("read")
def set_up_change(request: HttpRequest, actor: Actor, kind: str, thing: int) -> HttpResponse:
    """Show one thing with its values, to be changed, retired or brought back."""
    changing = CHANGING.get(kind)
    if changing is None:
        raise Http404(kind)
    if not actor.may(changing.action):
        raise Http404(kind)
    record = changing.shown(actor, thing)
    list_url = reverse("set-up-add", args=[actor.slug, kind])
    crumbs = [*set_up_crumbs(actor, "")[:1], (str(KINDS[kind].title), list_url), (record.name, "")]
    context: dict[str, Any] = {
        "lede": _("What it was before stays readable in the history of changes."),
        "crumbs": crumbs,
        "earlier_names": getattr(record, "earlier_names", []),
    }
    if kind == "sources" and actor.may("manage") and not record.erased:
        erase_url = reverse("source-erase", args=[actor.slug, thing])
        context["aside"] = {"url": erase_url, "label": _("Erase this name")}
    sheet = Sheet(
        record.name,
        _("Keep the change"),
        [Changed(changing, record)],
        lambda acting, values: changing.deed(acting, thing, values["change"]),
        lambda result, _values: Saved(
            result.name,
            _("Retired: it is no longer offered.") if result.retired else _("Changed."),
            (Step(_("Back to the list"), list_url, primary=True),),
            url=list_url,
        ),
        context=context,
        nav="set-up",
    )
    return enter(request, actor, sheet)
