"""Addresses of the wing `quality`."""

from django.urls import path

from recycling.web.quality import checks, declared, verdict_give, verdicts

urlpatterns = [
    path("lots/<str:code>/checks/", checks.checks, name="lot-checks"),
    path("lots/<str:code>/particles/", checks.particles, name="lot-particles"),
    path("lots/<str:code>/filament/", checks.filament, name="lot-filament"),
    path("declared-checks/", declared.declared, name="declared-checks"),
    path("declared-checks/<str:quantity>/", declared.declare, name="declare-check"),
    path("lots/<str:code>/second-choice/", declared.second_choice, name="lot-second-choice"),
    path("verdicts/", verdicts.verdicts, name="verdicts"),
    path("verdicts/<int:verdict>/photo/", verdicts.photo, name="verdict-photo"),
    path("verdicts/<int:verdict>/decide/", verdicts.decide, name="verdict-decide"),
    path("lots/<str:code>/verdict/", verdict_give.verdict_page, name="lot-verdict"),
]
