"""Keys for scripts, scales and meters: given out, shown once, revoked."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _

from recycling.queries.people.members import keys
from recycling.records.actors import Actor
from recycling.records.people import KeyEntry
from recycling.records.recorded import KeyIssued
from recycling.services.people.workshops import key_issue, key_revoke
from recycling.web.forms.fields import Typed, WholeField, choice_field
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording, set_up_crumbs
from shared.roles import SCOPES


def scope_name(scope: str) -> str:
    return {
        "read": _("read: looks only"),
        "record": _("record: adds entries"),
        "manage": _("manage: all that you may"),
    }.get(scope, scope)


class NewKey:
    """What a key is for, what it may do, and how long."""

    key = "entry"

    def __init__(self, actor: Actor) -> None:
        self.actor = actor

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("entry", _("Give out a key")).rows.append(row)
        scopes = [(scope, scope_name(scope)) for scope in SCOPES if self.actor.may(scope)]
        hint = _("The scale at the bench, the meter of the dryer.")
        form.add(row, "label", Typed(_("What it is for"), help_text=hint, required=True))
        form.add(
            row, "scope", choice_field(_("What it may do"), scopes, initial="record", required=True)
        )
        form.add(
            row, "days", WholeField(_("Valid for"), unit=_("days"), initial="365", required=True)
        )

    def read(self, form: EntryForm) -> KeyEntry:
        for name in ("label", "scope", "days"):
            form.point(f"/{name}", "", itself=name)
        given = form.cleaned_data
        return KeyEntry(given["label"], given["scope"], given["days"])


@recording("read")
def keys_page(request: HttpRequest, actor: Actor) -> HttpResponse:
    """List keys, and give out one more."""
    title, url = _("Keys"), reverse("set-up-keys", args=[actor.slug])

    def saved(result: KeyIssued, values: Any) -> Saved:
        text = _("The key for “%s” is in force.") % values["entry"].label
        return Saved("", text, (Step(_("All keys"), url, primary=True),), url=url)

    sheet = Sheet(
        title,
        _("Give out the key"),
        [NewKey(actor)],
        lambda acting, values: key_issue(acting, values["entry"]),
        saved,
        secret=lambda result: result.secret,
        context={
            "crumbs": set_up_crumbs(actor, title),
            "lede": _("A key acts in your name. Only its beginning is kept here."),
            "keys": keys(actor),
            "may": True,
        },
        template="people/keys.html",
        nav="set-up",
    )
    return enter(request, actor, sheet)


@recording("read")
def key_revoke_page(request: HttpRequest, actor: Actor, key: int) -> HttpResponse:
    """Revoke a key: one's own, or any as a lead."""
    known = next((one for one in keys(actor) if one.id == key), None)
    if known is None:
        raise Http404(f"no key {key}")
    title, url = _("Revoke a key"), reverse("set-up-keys", args=[actor.slug])
    sheet = Sheet(
        title,
        _("Revoke it"),
        [],
        lambda acting, values: key_revoke(acting, key),
        lambda result, values: Saved(
            known.prefix, _("Revoked; it opens nothing any more."), (Step(_("All keys"), url),)
        ),
        context={
            "crumbs": [*set_up_crumbs(actor, title)[:1], (_("Keys"), url), (title, "")],
            "lede": _("The key “%(label)s” (%(prefix)s…) stops working at once.")
            % {"label": known.label, "prefix": known.prefix},
            "stop": True,
        },
        nav="set-up",
    )
    return enter(request, actor, sheet)
