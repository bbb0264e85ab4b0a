"""Addresses of the wing `quality`."""

from django.urls import path

from recycling.web.quality import checks, verdict_give, verdicts

urlpatterns = [
    path("lots/<str:code>/checks/", checks.checks, name="lot-checks"),
    path("lots/<str:code>/particles/", checks.particles, name="lot-particles"),
    path("lots/<str:code>/filament/", checks.filament, name="lot-filament"),
    path("verdicts/", verdicts.verdicts, name="verdicts"),
    path("verdicts/<int:verdict>/photo/", verdicts.photo, name="verdict-photo"),
    path("verdicts/<int:verdict>/decide/", verdicts.decide, name="verdict-decide"),
    path("lots/<str:code>/verdict/", verdict_give.verdict_page, name="lot-verdict"),
]
