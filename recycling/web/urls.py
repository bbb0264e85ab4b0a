"""Addresses of pages: those that name no workshop, then what stands below a workshop's own."""

from __future__ import annotations

from django.urls import URLPattern, include, path
from django.views.i18n import set_language

from recycling.wings import WINGS, urls_of

ROOMS = ["offline", "pages", "forms", *(wing.key for wing in WINGS)]


def _all(name: str) -> list[URLPattern]:
    rooms = (urls_of("recycling.web", room) for room in ROOMS)
    return [pattern for urls in rooms for pattern in getattr(urls, name, [])]


urlpatterns = [
    path("language/", set_language, name="language"),
    *_all("open_patterns"),
    path("w/<slug:slug>/", include(_all("urlpatterns"))),
]
