"""Setting a new password by a link that a lead made."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from recycling.queries.people.tokens import password_link_owner
from recycling.services.people.passwords import password_set
from recycling.web.forms.plain import PlainForm
from recycling.web.languages import refusal_words
from shared.errors import Refused, Unknown

NEW = {"autocomplete": "new-password"}


class NewPassword(PlainForm):
    """The new password, twice."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for name, label in (("password", _("New password")), ("again", _("The same once more"))):
            widget = forms.PasswordInput(attrs=NEW)
            self.fields[name] = forms.CharField(label=label, strip=False, widget=widget)
        self.fields["password"].help_text = _("At least 10 characters, not only digits.")

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if not self.errors and given["password"] != given["again"]:
            self.add_error("again", _("The two are not the same."))
        return given


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def by_link(request: HttpRequest, token: str) -> HttpResponse:
    """Let whoever holds a good link set the password, once; the link stays out of logs."""
    request.logged_path = reverse("password-set", args=["-"])  # type: ignore[attr-defined]
    answer = _answered(request, token)
    answer["X-Robots-Tag"] = "noindex, nofollow"
    return answer


def _answered(request: HttpRequest, token: str) -> HttpResponse:
    form = NewPassword(request.POST if request.method == "POST" else None)
    try:
        owner = password_link_owner(token)
        if request.method == "POST" and form.is_valid():
            password_set(token, form.cleaned_data["password"])
            messages.success(request, _("The new password is set; sign in with it."))
            return redirect("sign-in")
    except Unknown as gone:
        shown = {"title": _("This link is not good any more"), "what": refusal_words(gone)}
        return render(request, "failure.html", shown, status=404)
    except Refused as refused:
        form.add_error("password", refusal_words(refused))
    status = 422 if form.is_bound else 200
    return render(
        request, "people/new_password.html", {"form": form, "owner": owner}, status=status
    )
