"""The second step at sign-in: a code, once the password was right; nobody is signed in before."""

from __future__ import annotations

import time
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.crypto import constant_time_compare
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from recycling.services.people.second_step import second_step_pass
from recycling.web.book_away import too_often_page
from recycling.web.forms.plain import PlainForm
from recycling.web.languages import refusal_words
from recycling.web.people import People
from recycling.web.people.devices import session_begun
from shared.errors import Refused, TooOften

ASKED = "second_step_asked"
ASKED_FOR_S = 600
"""So long after the password the code may be typed."""


class OneTime(PlainForm):
    """A code of the app, or a recovery code; digits both, for the keys of a phone."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        attrs = {"autocomplete": "one-time-code", "inputmode": "numeric", "spellcheck": "false"}
        self.fields["one_time"] = forms.CharField(
            label=_("Code"),
            max_length=80,
            widget=forms.TextInput(attrs=attrs),
            help_text=_("Six digits of the app on your phone, or twelve of a recovery code."),
        )


def ask_for_code(request: HttpRequest, user: Any, onward: str) -> None:
    """Keep whose password was right, for some minutes, in a session that signs nobody in."""
    request.session.cycle_key()
    request.session[ASKED] = {
        "user": user.pk,
        "hash": user.get_session_auth_hash(),
        "at": time.time(),
        "next": onward,
    }


def _asked(request: HttpRequest) -> tuple[Any, str] | None:
    """Say of whom a code is asked, and where they want to go; None where of nobody, or too late."""
    asked = request.session.get(ASKED)
    if not asked or time.time() - asked["at"] > ASKED_FOR_S:
        return None
    user = People().get_user(asked["user"])
    if user is None or not constant_time_compare(asked["hash"], user.get_session_auth_hash()):
        return None
    return user, asked["next"]


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in_code(request: HttpRequest) -> HttpResponse:
    """Ask for the code, and sign in by it."""
    found = _asked(request)
    if found is None or request.user.is_authenticated:
        if request.method == "POST":
            messages.info(request, _("Too much time has passed; sign in again."))
        return redirect("home" if request.user.is_authenticated else "sign-in")
    user, onward = found
    form = OneTime(request.POST if request.method == "POST" else None)
    try:
        if form.is_bound and form.is_valid():
            left = second_step_pass(user.pk, form.cleaned_data["one_time"])
            return _in(request, user, onward, left)
    except TooOften as often:
        return too_often_page(request, often)
    except Refused as refused:
        form.add_error("one_time", refusal_words(refused))
    status = 422 if form.is_bound else 200
    return render(request, "people/sign_in_code.html", {"form": form}, status=status)


def _in(request: HttpRequest, user: Any, onward: str, left: int | None) -> HttpResponse:
    del request.session[ASKED]
    login(request, user, f"{People.__module__}.{People.__qualname__}")
    session_begun(request)
    if left is not None:
        said = ngettext(
            "A recovery code was used; %d is left. Make new ones on the page of your account.",
            "A recovery code was used; %d are left. Make new ones on the page of your account.",
            left,
        )
        messages.warning(request, said % left)
    return redirect(onward)
