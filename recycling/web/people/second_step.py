"""One's own second step at sign-in: set up, given new recovery codes, turned off."""

from __future__ import annotations

import secrets
import time
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext_lazy as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from recycling.figures.square_code import square_svg
from recycling.queries.people.second_step import (
    SecondStepRecord,
    app_address,
    second_step_of,
    secret_text,
)
from recycling.services.people.passwords import own_password_try
from recycling.services.people.second_step import (
    recovery_codes_renew,
    second_step_confirm,
    second_step_off,
)
from recycling.web.forms.plain import PlainForm
from recycling.web.languages import refusal_words
from recycling.web.people.sign_in_code import OneTime
from shared.errors import Refused

SEED = "second_step_seed"
SEED_FOR_S = 1200
"""So long the QR code is shown and may be confirmed, after the password."""
QUIET, SCALE = 4, 4
"""Light modules around a QR code (ISO/IEC 18004:2015, 6.3.8), and how wide each is, px."""
Shown = dict[str, Any]


class Password(PlainForm):
    """One's password once more."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        widget = forms.PasswordInput(attrs={"autocomplete": "current-password"})
        field = forms.CharField(label=_("Your password"), strip=False, widget=widget)
        self.fields = {"password": field, **self.fields}


class PasswordAndCode(Password, OneTime):
    """Both."""


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def second_step_page(request: HttpRequest, slug: str) -> HttpResponse:
    """Show one's second step, set it up or turn it off; who acts by PIN has to sign in for it."""
    found = second_step_of(request.user.pk or 0)
    if request.method == "POST":
        form = _form(request, found)
        if request.POST.get("deed") == "leave":
            request.session.pop(SEED, None)
            return redirect("account", slug=slug)
        try:
            if form.is_valid():
                return _done(request, slug, found, form)
        except Refused as refused:
            for problem in refused.problems:
                name = problem.pointer.strip("/")
                form.add_error(name if name in form.fields else None, refusal_words(refused))
            return _page(request, found, form, refused.status)
        return _page(request, found, form, 422)
    return _page(request, found, _form(request, found))


def _seed(request: HttpRequest) -> str:
    """Give the seed of the secret that is being set up; empty where none is, or for too long."""
    kept = request.session.get(SEED) or {"seed": "", "at": 0.0}
    return kept["seed"] if time.time() - kept["at"] < SEED_FOR_S else ""


def _form(request: HttpRequest, found: SecondStepRecord | None) -> PlainForm:
    given = request.POST if request.method == "POST" else None
    if found is not None:
        return PasswordAndCode(given)
    return OneTime(given) if _seed(request) and "password" not in request.POST else Password(given)


def _done(
    request: HttpRequest, slug: str, found: SecondStepRecord | None, form: PlainForm
) -> HttpResponse:
    user, given, seed = request.user.pk or 0, form.cleaned_data, _seed(request)
    if found is not None and request.POST.get("deed") == "renew":
        codes = recovery_codes_renew(user, given["password"], given["one_time"])
        return _codes(request, codes)
    if found is not None:
        second_step_off(user, given["password"], given["one_time"])
        messages.success(request, _("Your second step is off; the password alone signs in."))
        return redirect("account", slug=slug)
    if "password" in given:
        own_password_try(user, given["password"])
        request.session[SEED] = {"seed": secrets.token_urlsafe(32), "at": time.time()}
        return redirect("second-step", slug=slug)
    here = request.session.session_key or ""
    codes = second_step_confirm(user, seed, given["one_time"], here)
    request.session.pop(SEED, None)
    return _codes(request, codes)


def _codes(request: HttpRequest, codes: tuple[str, ...]) -> HttpResponse:
    return render(request, "people/recovery_codes.html", {"codes": codes, "nav": ""})


def _page(
    request: HttpRequest, found: SecondStepRecord | None, form: PlainForm, status: int = 200
) -> HttpResponse:
    seed = "" if found else _seed(request)
    shown: Shown = {"form": form, "second_step": found, "nav": ""}
    if seed:
        address = app_address(seed, request.user.get_username())
        shown |= {"secret": secret_text(seed), "square": square_svg(address, QUIET, True, SCALE)}
    return render(request, "people/second_step.html", shown, status=status)
