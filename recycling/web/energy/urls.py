"""Addresses of the wing `energy`."""

from django.urls import path

from recycling.web.energy import files, machines, meters, notes, overview, prices

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
    path("machines/<int:machine>/meter/", meters.meter_change, name="meter-change"),
    path("runs/<str:code>/energy/", overview.run, name="run-energy"),
    path("lots/<str:code>/energy/", overview.lot, name="lot-energy"),
    path("practice/tariffs/new/", prices.tariff_new, name="tariff-new"),
    path("practice/factors/new/", prices.factor_new, name="factor-new"),
]
