"""One's own account: the PIN for shared tablets, and the password."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.forms import PasswordChangeForm
from django.contrib.auth.views import PasswordChangeView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from recycling.queries.people.sessions import sessions_of
from recycling.queries.people.tablets import has_pin
from recycling.records.actors import Actor
from recycling.records.people import SessionRecord
from recycling.services.people.passwords import own_password_try
from recycling.services.people.sessions import session_end
from recycling.services.people.tablets import pin_remove, pin_set
from recycling.web.forms.fields import Typed
from recycling.web.forms.forms import EntryForm, Row
from recycling.web.forms.page import Saved, Sheet, Step, enter, recording
from recycling.web.languages import refusal_words
from shared.errors import Refused


def _secret(label: str, complete: str, digits: bool = False, **options: Any) -> Typed:
    attrs = {"autocomplete": complete} | ({"inputmode": "numeric"} if digits else {})
    widget = forms.PasswordInput(attrs=attrs)
    return Typed(label, required=True, strip=False, widget=widget, **options)


class NewPin:
    """One's password, and the PIN twice."""

    key = "pin"

    def lay(self, form: EntryForm) -> None:
        row = Row("")
        form.section("pin").rows.append(row)
        hint = _("4 to 8 digits; not those of anything else that you open.")
        form.add(row, "password", _secret(_("Your password"), "current-password"))
        form.add(row, "pin", _secret(_("PIN"), "off", True, help_text=hint))
        form.add(row, "again", _secret(_("PIN once more"), "off", True))

    def read(self, form: EntryForm) -> tuple[str, str]:
        for name in ("password", "pin"):
            form.point(f"/{name}", "", itself=name)
        given = dict(form.cleaned_data)
        if given["pin"] != given["again"]:
            form.add_error("again", _("The two PINs differ. Type both again."))
        return given["password"], given["pin"]


@recording("key")
def account(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Show one's account, and set the PIN."""
    title, url = _("Your account"), reverse("account", args=[actor.slug])
    sheet = Sheet(
        title,
        _("Set the PIN"),
        [NewPin()],
        lambda acting, values: pin_set(acting, *values["pin"]),
        lambda result, values: Saved(
            "", _("Your PIN is set; it opens shared tablets of this workshop."), (Step(title, url),)
        ),
        context={"has_pin": has_pin(actor), "sessions": _sessions(request)},
        repeatable=True,
        template="people/own_account.html",
        nav="",
    )
    return enter(request, actor, sheet)


def _sessions(request: HttpRequest) -> list[SessionRecord]:
    """List where the person is signed in; whoever acts by PIN sees none of it."""
    user, here = request.user.pk, request.session.session_key
    return sessions_of(user, here or "") if user else []


@require_POST
@login_required
def session_end_page(request: HttpRequest, slug: str) -> HttpResponse:
    """End one of one's own sessions, or all others."""
    which, here = request.POST.get("session", ""), request.session.session_key or ""
    count = session_end(request.user.pk or 0, which, here)
    if count > 1:
        messages.success(request, _("Signed out on %d devices.") % count)
    elif count:
        messages.success(request, _("Signed out there."))
    else:
        messages.info(request, _("It had ended already."))
    return redirect("account", slug=slug)


@recording("key")
def pin_remove_page(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Remove one's PIN."""
    url = reverse("account", args=[actor.slug])
    sheet = Sheet(
        _("Remove your PIN"),
        _("Remove it"),
        [],
        lambda acting, values: pin_remove(acting),
        lambda result, values: Saved(
            "", _("Removed; you sign in with your password."), (Step(_("Your account"), url),)
        ),
        context={
            "lede": _("You can then no longer act on shared tablets of this workshop."),
            "crumbs": [(_("Your account"), url), (_("Remove your PIN"), "")],
            "stop": True,
        },
        nav="",
    )
    return enter(request, actor, sheet)


class ChangedPassword(PasswordChangeForm):
    """The old password, whose tries are counted, and the new one twice."""

    def clean_old_password(self) -> str:
        given = self.cleaned_data["old_password"]
        try:
            own_password_try(self.user.pk, given)
        except Refused as refused:
            raise forms.ValidationError(refusal_words(refused)) from refused
        return given


class PasswordChange(PasswordChangeView):
    """Change one's password; other sessions end."""

    form_class = ChangedPassword
    template_name = "people/own_password.html"

    def get_success_url(self) -> str:
        messages.success(self.request, _("Your password is changed."))
        return reverse("home")

    def form_invalid(self, form):
        answer = super().form_invalid(form)
        answer.status_code = 422
        return answer
