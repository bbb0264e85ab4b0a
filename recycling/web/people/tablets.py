"""Pages of a lead: make this device a shared tablet, revoke one, say when they lock."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from recycling.queries.people.tablets import lock_minutes, tablets
from recycling.records.actors import Actor
from recycling.records.people import TabletIssued
from recycling.services.people.tablets import lock_time_set, tablet_add, tablet_revoke
from recycling.web.forms.fields import Typed, WholeField
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording, set_up_crumbs
from recycling.web.people import tablet_session
from recycling.web.people.tablet_door import to_acting


class OneField:
    """A form of one field."""

    def __init__(self, key: str, field: Any) -> None:
        self.key, self.field = key, field

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section(self.key).rows.append(row)
        form.add(row, self.key, self.field)
        form.point(f"/{self.key}", "", itself=self.key)

    def read(self, form: EntryForm) -> Any:
        return form.cleaned_data[self.key]


@recording("manage")
def tablets_page(request: HttpRequest, actor: Actor) -> HttpResponse:
    """List shared tablets, and make this device one."""
    title, url = _("Shared tablets"), reverse("set-up-tablets", args=[actor.slug])
    issued: list[TabletIssued] = []

    def deed(acting: Actor, values: Any) -> TabletIssued:
        issued.append(tablet_add(acting, values["label"]))
        return issued[-1]

    def saved(result: TabletIssued, values: Any) -> Saved:
        return Saved("", _("This device is a shared tablet now."), (Step(title, url),), url=url)

    hint = _("Where it stands, such as: tablet at the sorting table.")
    sheet = Sheet(
        title,
        _("Make this device a shared tablet"),
        [OneField("label", Typed(_("What it is called"), help_text=hint, required=True))],
        deed,
        saved,
        context={
            "crumbs": set_up_crumbs(actor, title),
            "tablets": tablets(actor),
            "minutes": lock_minutes(actor),
        },
        template="people/tablets.html",
        nav="set-up",
    )
    answer = enter(request, actor, sheet)
    if not issued:
        return answer
    tablet_session.end(request)
    answer = to_acting(actor.slug)
    answer.set_cookie(
        tablet_session.COOKIE,
        issued[0].token,
        max_age=tablet_session.COOKIE_AGE_S,
        httponly=True,
        secure=settings.SESSION_COOKIE_SECURE,
        samesite="Lax",
    )
    return answer


@recording("manage")
def tablet_revoke_page(request: HttpRequest, actor: Actor, tablet: int) -> HttpResponse:
    """Revoke a shared tablet."""
    known = next((one for one in tablets(actor) if one.id == tablet), None)
    if known is None:
        raise Http404(f"no tablet {tablet}")
    title, url = _("Revoke a shared tablet"), reverse("set-up-tablets", args=[actor.slug])
    sheet = Sheet(
        title,
        _("Revoke it"),
        [],
        lambda acting, values: tablet_revoke(acting, tablet),
        lambda result, values: Saved(
            "", _("Revoked; it opens nothing any more."), (Step(_("Shared tablets"), url),)
        ),
        context={
            "crumbs": [*set_up_crumbs(actor, title)[:1], (_("Shared tablets"), url), (title, "")],
            "lede": _("The tablet “%(label)s” asks for a password at its next tap.")
            % {"label": known.label},
            "stop": True,
        },
        nav="set-up",
    )
    return enter(request, actor, sheet)


@recording("manage")
def lock_time_page(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Say after how long untouched the tablets lock."""
    title, url = _("When tablets lock"), reverse("set-up-tablets", args=[actor.slug])
    hint = _("From 1 to 60. Shorter is safer, longer is quicker with gloves on.")
    minutes = WholeField(
        _("Lock after"),
        unit=_("minutes"),
        initial=str(lock_minutes(actor)),
        help_text=hint,
        required=True,
    )
    sheet = Sheet(
        title,
        _("Keep it"),
        [OneField("minutes", minutes)],
        lambda acting, values: lock_time_set(acting, values["minutes"]),
        lambda result, values: Saved(
            "",
            ngettext(
                "Tablets lock after %d minute untouched.",
                "Tablets lock after %d minutes untouched.",
                result,
            )
            % result,
            (Step(_("Shared tablets"), url),),
        ),
        context={
            "crumbs": [*set_up_crumbs(actor, title)[:1], (_("Shared tablets"), url), (title, "")]
        },
        nav="set-up",
    )
    return enter(request, actor, sheet)
