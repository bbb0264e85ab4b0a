"""Addresses of machines, energy, changeovers and checks, below a workshop's own address."""

from django.urls import path

from recycling.web import process as changeovers
from recycling.web.energy import files, machines, meters, notes, overview
from recycling.web.quality import checks
from recycling.web.setup import practice

urlpatterns = [
    path("energy/", overview.energy, name="energy"),
    path("energy/files/<int:file>/", files.file, name="energy-file"),
    path("energy/files/<int:file>/progress/", files.file_progress, name="energy-file-progress"),
    path(
        "energy/files/<int:file>/take/", files.file_deed, {"deed": "take"}, name="energy-file-take"
    ),
    path(
        "energy/files/<int:file>/drop/", files.file_deed, {"deed": "drop"}, name="energy-file-drop"
    ),
    path("machines/<int:machine>/", machines.machine, name="machine"),
    path("machines/<int:machine>/tap/", machines.machine_tap, name="machine-tap"),
    path("machines/<int:machine>/parts/new/", notes.machine_part, name="machine-part"),
    path("machines/<int:machine>/times/new/", notes.machine_time, name="machine-time"),
    path("machines/<int:machine>/phases/new/", notes.machine_phase, name="machine-phase"),
    path("machines/<int:machine>/readings/new/", notes.machine_reading, name="machine-reading"),
    path("machines/<int:machine>/files/new/", files.file_new, name="energy-file-bring"),
    path(
        "machines/<int:machine>/<slug:kind>/<int:logged>/take-back/",
        machines.take_back,
        name="machine-take-back",
    ),
    path("machines/<int:machine>/changeover/", changeovers.changeover, name="changeover"),
    path("machines/<int:machine>/meter/", meters.meter_change, name="meter-change"),
    path("machines/<int:machine>/barrel/", practice.barrel_change, name="barrel-change"),
    path("changeovers/<int:plan>/", changeovers.changeover_shown, name="changeover-plan"),
    path("changeovers/<int:plan>/used/", changeovers.changeover_took, name="changeover-used"),
    path("runs/<str:code>/energy/", overview.run, name="run-energy"),
    path("lots/<str:code>/energy/", overview.lot, name="lot-energy"),
    path("lots/<str:code>/checks/", checks.checks, name="lot-checks"),
    path("lots/<str:code>/closest/", checks.closest, name="lot-closest"),
    path("lots/<str:code>/particles/", checks.particles, name="lot-particles"),
    path("lots/<str:code>/filament/", checks.filament, name="lot-filament"),
    path("practice/", practice.practice, name="practice"),
    path("practice/windows/new/", practice.window_change, name="window-change"),
    path("practice/tariffs/new/", practice.tariff_new, name="tariff-new"),
    path("practice/factors/new/", practice.factor_new, name="factor-new"),
    path("practice/materials/<slug:kind>/", practice.material_change, name="material-change"),
    path("practice/<slug:key>/", practice.practice_change, name="practice-change"),
]
