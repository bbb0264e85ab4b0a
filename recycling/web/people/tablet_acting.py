"""Pages on a shared tablet: who is acting, lock, and what was typed before it locked."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.middleware.csrf import rotate_token
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from recycling.queries.people.tablets import people_with_pin
from recycling.records.people import TabletHere
from recycling.services.people.tablet_unlock import tablet_unlock
from recycling.web.forms.beside import CARRIED
from recycling.web.forms.plain import PlainForm
from recycling.web.languages import in_language
from recycling.web.people import tablet_session
from recycling.web.people.tablet_door import to_acting, within
from shared.errors import Refused, Unknown

AS_IT_WAS_SENT = ("step", "in_words", "made_by")
"""What the page that is gone back to says anew."""


class PinForm(PlainForm):
    """Whose PIN, and the PIN."""

    member = forms.ChoiceField(
        label=gettext_lazy("Who is acting?"),
        widget=forms.RadioSelect,
        error_messages={"required": gettext_lazy("Choose your name.")},
    )
    pin = forms.CharField(
        label=gettext_lazy("PIN"),
        max_length=8,
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        error_messages={"required": gettext_lazy("Type your PIN.")},
    )

    def __init__(self, people: list[tuple[int, str]], *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["member"].choices = people  # type: ignore[attr-defined]


@never_cache
@sensitive_post_parameters("pin")
@require_http_methods(["GET", "HEAD", "POST"])
def act_as(request: HttpRequest, slug: str) -> HttpResponse:
    """Ask who is acting, and let them by their PIN."""
    tablet = tablet_session.tablet_here(request)
    if tablet is None or tablet.slug != slug:
        raise Http404("no shared tablet")
    people = people_with_pin(tablet)
    asked = request.POST.get("next", request.GET.get("next", ""))
    if request.method != "POST":
        return _ask(request, tablet, PinForm(people), asked)
    form = PinForm(people, request.POST)
    if not form.is_valid():
        return _ask(request, tablet, form, asked, 422)
    token = request.COOKIES[tablet_session.COOKIE]
    try:
        actor = tablet_unlock(token, int(form.cleaned_data["member"]), form.cleaned_data["pin"])
    except Unknown as gone:
        raise Http404(str(gone)) from gone
    except Refused as refused:
        form.add_error("pin", in_language(refused.problems[0].detail))
        return _ask(request, tablet, form, asked, refused.status)
    typed_before = tablet_session.begin(request, tablet, actor)
    rotate_token(request)
    if typed_before:
        return redirect("go-on", slug=slug)
    return redirect(within(request, asked, slug))


def _ask(
    request: HttpRequest, tablet: TabletHere, form: PinForm, asked: str, status: int = 200
) -> HttpResponse:
    shown = {"tablet": tablet, "form": form, "next": asked}
    return render(request, "people/act_as.html", shown, status=status)


@never_cache
@require_POST
def lock(request: HttpRequest, slug: str) -> HttpResponse:
    """Lock by a tap; script sends along what is typed in the page's form."""
    tablet = tablet_session.tablet_here(request)
    if tablet is None or tablet.slug != slug:
        raise Http404("no shared tablet")
    actor = getattr(request, "actor", None)
    path = request.POST.get("path", "")
    if actor is not None and path.startswith(f"/w/{slug}/"):
        tablet_session.keep_typed(request, actor.member_id, path)
    tablet_session.end(request)
    return to_acting(slug, within(request, path, slug) if path else "")


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def go_on(request: HttpRequest, slug: str) -> HttpResponse:
    """Show that something was typed before the lock, and lead back to it with all of it."""
    typed = tablet_session.typed_here(request)
    if typed is None:
        return redirect("today", slug=slug)
    if request.method == "POST":
        tablet_session.drop_typed(request)
        return redirect(within(request, typed["path"], slug))
    fields = [(name, value) for name, value in typed["fields"] if name not in AS_IT_WAS_SENT]
    shown = {"typed": typed, "fields": fields, "seen": _seen(typed["fields"]), "nav": "record"}
    return render(request, "people/go_on.html", {**shown, "title": _("Go on where you were")})


def _seen(fields: list[tuple[str, str]]) -> list[str]:
    """Say what was typed: as the page's script put it, else only what was typed itself."""
    words = dict(fields).get("in_words", "")
    if words:
        return [line for line in words.splitlines() if line.strip()]
    named = [(name, value) for name, value in fields if name not in CARRIED]
    return [value for name, value in named if value and not name.endswith(("_key", "rows"))]
