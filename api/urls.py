"""Addresses of the API, wing by wing."""

from __future__ import annotations

from django.urls import path, re_path

from api.protocol import schema
from recycling.wings import WINGS, urls_of

ROOMS = [urls_of("api", wing.key) for wing in WINGS]
urlpatterns = [
    *(pattern for urls in ROOMS for pattern in getattr(urls, "urlpatterns", [])),
    path("schema/", schema.SchemaApi.as_view()),
    re_path("", schema.NowhereApi.as_view()),
]
