"""Pages on which a lead changes a member, makes a link to a new password, names the workshop."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.queries.people.members import member as known_member
from recycling.queries.people.second_step import has_second_step
from recycling.records.actors import Actor
from recycling.records.people import MemberChange, MemberRecord, WorkshopChange
from recycling.services.people.erasures import member_erase
from recycling.services.people.members import (
    LINK_HOURS,
    member_change,
    password_link,
    second_step_remove,
)
from recycling.services.people.workshops import workshop_change
from recycling.web.forms.fields import Typed, choice_field, tick
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording, set_up_crumbs
from recycling.web.words import role_name
from shared.roles import ROLES


def _crumbs(actor: Actor, *more: tuple[str, str]) -> list[tuple[str, str]]:
    members_url = reverse("set-up-add", args=[actor.slug, "members"])
    return [*set_up_crumbs(actor, "")[:1], (_("Members"), members_url), *more]


class Membership:
    """A member's name and role, and whether the person may come in."""

    key = "change"

    def __init__(self, record: MemberRecord) -> None:
        self.record = record

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("change").rows.append(row)
        name = Typed(_("Name"), required=True, initial=self.record.name)
        form.add(row, "name", name)
        roles = [(role, role_name(role)) for role in ROLES]
        field = choice_field(_("Role"), roles, initial=self.record.role, required=True)
        form.add(row, "role", field)
        hint = _("Without the tick the person stays on all entries, but comes in no more.")
        active = tick(_("May come in"), initial=self.record.active, help_text=hint)
        form.add(row, "active", active)

    def read(self, form: EntryForm) -> MemberChange:
        for pointer, name in (("/new_role", "role"), ("/active", "active"), ("/name", "name")):
            form.point(pointer, "", itself=name)
        return MemberChange(*(form.cleaned_data[name] for name in ("role", "active", "name")))


@recording("manage")
def member_page(request: HttpRequest, actor: Actor, member: int) -> HttpResponse:
    """Change what a member is called or may do, or let a member go."""
    record = known_member(actor, member)
    url = reverse("set-up-add", args=[actor.slug, "members"])
    context: dict[str, Any] = {
        "lede": _("It counts at once, on every device."),
        "crumbs": _crumbs(actor, (record.name, "")),
    }
    if record.active:
        link_url = reverse("member-password", args=[actor.slug, member])
        context["aside"] = {"url": link_url, "label": _("Make a link to a new password")}
    elif not record.erased:
        erase_url = reverse("member-erase", args=[actor.slug, member])
        context["aside"] = {"url": erase_url, "label": _("Erase this name")}
    if has_second_step(actor, member) and member != actor.member_id:
        lost_url = reverse("member-second-step", args=[actor.slug, member])
        context["aside_two"] = {"url": lost_url, "label": _("Remove the second step")}
    if record.earlier_names:
        context["earlier_names"] = record.earlier_names
    sheet = Sheet(
        record.name,
        _("Keep the change"),
        [Membership(record)],
        lambda acting, values: member_change(acting, member, values["change"]),
        lambda result, _values: Saved(
            result.name,
            role_name(result.role) if result.active else _("May come in no more."),
            (Step(_("Back to the members"), url, primary=True),),
            url=url,
        ),
        context=context,
        nav="set-up",
    )
    return enter(request, actor, sheet)


@recording("manage")
def member_erase_page(request: HttpRequest, actor: Actor, member: int) -> HttpResponse:
    """Erase the name and account of a member who has left."""
    record = known_member(actor, member)
    url = reverse("set-up-add", args=[actor.slug, "members"])
    back = reverse("member-change", args=[actor.slug, member])
    sheet = Sheet(
        _("Erase %s") % record.name,
        _("Erase for good"),
        [],
        lambda acting, _values: member_erase(acting, member),
        lambda result, _values: Saved(
            result.name,
            _("Erased. Entries now name this number."),
            (Step(_("Back to the members"), url, primary=True),),
            url=url,
        ),
        context={
            "lede": _(
                "Name, account, keys and PIN go for good; a number stands in the name's place."
                " Weights and entries stay, and reports that are frozen keep what they said."
                " What somebody typed into a note is not found: correct it there."
            ),
            "crumbs": _crumbs(actor, (record.name, back), (_("Erase"), "")),
            "stop": True,
        },
        nav="set-up",
    )
    return enter(request, actor, sheet)


@recording("manage")
def member_password(request: HttpRequest, actor: Actor, member: int) -> HttpResponse:
    """Make a link by which a member sets a new password; it is shown this once."""
    record = known_member(actor, member)
    url = reverse("member-change", args=[actor.slug, member])
    sheet = Sheet(
        _("A new password for %s") % record.name,
        _("Make the link"),
        [],
        lambda acting, _values: password_link(acting, member),
        lambda _result, _values: Saved(
            record.name,
            ngettext(
                "The link is good for one use within %d hour.",
                "The link is good for one use within %d hours.",
                LINK_HOURS,
            )
            % LINK_HOURS,
            (Step(_("Back to %s") % record.name, url),),
        ),
        secret=lambda token: request.build_absolute_uri(reverse("password-set", args=[token])),
        context={
            "lede": _(
                "Hand the link over yourself: whoever opens it first sets the password. An earlier"
                " link stops working."
            ),
            "crumbs": _crumbs(actor, (record.name, url), (_("New password"), "")),
        },
        nav="set-up",
    )
    return enter(request, actor, sheet)


@recording("manage")
def member_second_step(request: HttpRequest, actor: Actor, member: int) -> HttpResponse:
    """Remove another member's second step at sign-in, as when a phone is lost."""
    record = known_member(actor, member)
    url = reverse("member-change", args=[actor.slug, member])
    sheet = Sheet(
        _("Remove the second step of %s") % record.name,
        _("Remove it"),
        [],
        lambda acting, _values: second_step_remove(acting, member),
        lambda _result, _values: Saved(
            record.name,
            _("Removed; the password alone signs in."),
            (Step(_("Back to %s") % record.name, url),),
        ),
        context={
            "lede": _(
                "For somebody who has lost both phone and recovery codes. Make sure that it is"
                " they who ask. The history says who removed it."
            ),
            "crumbs": _crumbs(actor, (record.name, url), (_("Second step"), "")),
            "stop": True,
        },
        nav="set-up",
    )
    return enter(request, actor, sheet)


class Details:
    """What the workshop is called, and where it is in time."""

    key = "change"

    def __init__(self, name: str, zone: str) -> None:
        self.name, self.zone = name, zone

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("change").rows.append(row)
        hint = _("A name of the IANA list, like Europe/Lisbon. Times are kept as moments.")
        form.add(row, "name", Typed(_("Name"), required=True, initial=self.name))
        form.add(row, "zone", Typed(_("Time zone"), initial=self.zone, help_text=hint))

    def read(self, form: EntryForm) -> WorkshopChange:
        for name in ("name", "zone"):
            form.point(f"/{name}", "", itself=name)
        return WorkshopChange(form.cleaned_data["name"], form.cleaned_data["zone"] or None)


@recording("manage")
def workshop_page(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Change the workshop's own details; its short name in addresses stays, for labels name it."""
    title, url = _("The workshop"), reverse("set-up", args=[actor.slug])
    sheet = Sheet(
        title,
        _("Keep the change"),
        [Details(actor.workshop, actor.zone)],
        lambda acting, values: workshop_change(acting, values["change"]),
        lambda result, _values: Saved(
            result.name, _("Changed."), (Step(_("Back to the set-up"), url, primary=True),), url=url
        ),
        context={
            "lede": _("How it is called on pages, labels and reports."),
            "crumbs": set_up_crumbs(actor, title),
        },
        nav="set-up",
    )
    return enter(request, actor, sheet)
