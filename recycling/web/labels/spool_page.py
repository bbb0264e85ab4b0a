"""The page that a spool's label opens for anybody: what it is, and how it printed."""

from __future__ import annotations

import zoneinfo
from typing import Any

from django import forms
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods

from recycling.queries.labels.spool_page import public_spool
from recycling.records.labels.spool_page import PublicSpool
from recycling.records.quality.verdicts import DEFECTS, PrintedWith, PublicVerdictEntry
from recycling.services.quality.public_verdicts import verdict_receive
from recycling.web.addresses import address_of
from recycling.web.book_words import DEFECTS as DEFECTS_SAID
from recycling.web.forms.fields import LinesField, NumberField, choice_field
from recycling.web.forms.plain import PlainForm
from recycling.web.labels.spool_sources import sources_drawn
from recycling.web.languages import in_language
from shared.errors import Refused, TooOften, Unavailable, Unknown

GIVER = "verdict_giver"
GIVER_AGE_S = 2 * 365 * 24 * 3600
LARGEST_REQUEST = 9 * 2**20
LONGEST_GIVER = 40
PRINTED = ("nozzle_c", "bed_c", "speed_mm_s")


class PublicVerdictForm(PlainForm):
    """Good or bad, what was wrong, a word, a photo."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        said = [("good", _("Good: it printed well")), ("bad", _("Bad: something was wrong"))]
        self.fields["good"] = choice_field(_("How did it print?"), said, required=True)
        self.fields["good"].error_messages["required"] = _("Say good or bad.")
        self.fields["defects"] = forms.MultipleChoiceField(
            label=_("What was wrong"),
            choices=[(one, capfirst(DEFECTS_SAID[one])) for one in DEFECTS],
            widget=forms.CheckboxSelectMultiple,
            required=False,
            help_text=_("Only for a bad one."),
        )
        self.fields["nozzle_c"] = NumberField(_("Nozzle"), unit="°C")
        self.fields["bed_c"] = NumberField(_("Bed"), unit="°C")
        self.fields["speed_mm_s"] = NumberField(_("Speed"), unit="mm/s")
        self.fields["note"] = LinesField(_("In your words"))
        self.fields["photo"] = forms.FileField(
            label=_("A photo"),
            required=False,
            help_text=_(
                "JPEG, PNG or WebP, up to 8 MB. Only its pixels are kept: no place, no name. Please"
                " show no people."
            ),
            widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        )

    def clean_note(self) -> str:
        return self.cleaned_data["note"].replace("\r\n", "\n")

    def entry(self) -> PublicVerdictEntry:
        """Give what was entered."""
        given, photo = self.cleaned_data, self.cleaned_data["photo"]
        return PublicVerdictEntry(
            given["good"] == "good",
            tuple(given["defects"]),
            given["note"],
            photo.read() if photo else b"",
            PrintedWith(*(given[name] for name in PRINTED)),
        )

    @property
    def printed(self) -> list[forms.BoundField]:
        return [self[name] for name in PRINTED]


@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
def spool(request: HttpRequest, token: str) -> HttpResponse:
    """Look at the size of what was sent before any of it is read, then at whose it is."""
    request.logged_path = reverse("public-spool", args=["-"])  # type: ignore[attr-defined]
    try:
        shown = public_spool(token, _giver(request), request.user.pk)
    except Unknown:
        return _closed(render(request, "labels/public_gone.html", status=404))
    zone = zoneinfo.ZoneInfo(shown.zone)
    with timezone.override(zone):
        if request.method != "POST":
            return _closed(_show(request, shown, PublicVerdictForm(initial=_before(shown))))
        if int(request.META.get("CONTENT_LENGTH") or 0) > LARGEST_REQUEST:
            return _closed(render(request, "suspects/too_large.html", {"spool": shown}, status=413))
        return _closed(_give(request, shown, token))


@csrf_protect
def _give(request: HttpRequest, shown: PublicSpool, token: str) -> HttpResponse:
    form = PublicVerdictForm(request.POST, request.FILES)
    if not form.is_valid():
        return _show(request, shown, form, 422)
    try:
        received = verdict_receive(token, form.entry(), _giver(request), address_of(request))
    except TooOften as often:
        answer = _refused(request, shown, form, often)
        answer["Retry-After"] = "3600"
        return answer
    except (Refused, Unavailable) as refused:
        return _refused(request, shown, form, refused)
    answer = redirect(f"{reverse('public-spool', args=[token])}?given=1")
    answer.set_cookie(
        GIVER,
        received.giver,
        max_age=GIVER_AGE_S,
        path=reverse("public-spool", args=["-"]).removesuffix("-/"),
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )
    return answer


def _refused(
    request: HttpRequest, shown: PublicSpool, form: PublicVerdictForm, why: Refused
) -> HttpResponse:
    for problem in why.problems:
        name = problem.pointer.strip("/")
        form.add_error(name if name in form.fields else None, in_language(problem.detail))
    return _show(request, shown, form, why.status)


def _show(
    request: HttpRequest, shown: PublicSpool, form: PublicVerdictForm, status: int = 200
) -> HttpResponse:
    given = bool(shown.before) and "given" in request.GET
    context = {"spool": shown, "form": form, "given": given, "figure": sources_drawn(shown)}
    return render(request, "labels/public.html", context, status=status)


def _before(shown: PublicSpool) -> dict[str, Any]:
    if shown.before is None:
        return {}
    good = "good" if shown.before.good else "bad"
    printed = {
        name: f"{value:g}"
        for name in PRINTED
        if (value := getattr(shown.before.printed, name)) is not None
    }
    defects, note = list(shown.before.defects), shown.before.note
    return {"good": good, "defects": defects, "note": note, **printed}


def _giver(request: HttpRequest) -> str:
    return request.COOKIES.get(GIVER, "")[:LONGEST_GIVER]


def _closed(answer: HttpResponse) -> HttpResponse:
    """Keep the address and what was typed out of caches and search engines."""
    answer["Cache-Control"] = "no-store"
    answer["X-Robots-Tag"] = "noindex, nofollow"
    return answer
