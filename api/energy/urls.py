"""Addresses of the wing `energy`."""

from django.urls import path

from api.energy import figures, files, machines

urlpatterns = [
    path("machines/<int:machine>/", machines.MachineApi.as_view()),
    path("machines/<int:machine>/parts/", machines.MachinePartsApi.as_view()),
    path("machines/<int:machine>/phases/", machines.MachinePhasesApi.as_view()),
    path("machines/<int:machine>/phases/now/", machines.MachinePhaseNowApi.as_view()),
    path("machines/<int:machine>/readings/", machines.MachineReadingsApi.as_view()),
    path("lots/<str:code>/energy/", figures.LotEnergyApi.as_view()),
    path("energy/files/", files.EnergyFilesApi.as_view()),
    path("energy/files/<int:file>/", files.EnergyFileApi.as_view()),
    path("energy/files/<int:file>/take/", files.EnergyFileTakeApi.as_view()),
    path("energy/files/<int:file>/drop/", files.EnergyFileDropApi.as_view()),
    path("energy/readings/", figures.EnergyReadingsApi.as_view()),
    path("energy/parts/<int:part>/times/", machines.PartTimesApi.as_view()),
    path("energy/parts/<int:part>/now/", machines.PartNowApi.as_view()),
    path("energy/logged/<int:logged>/take-back/", machines.LoggedTakeBackApi.as_view()),
    path("energy/tariffs/", figures.EnergyTariffsApi.as_view()),
    path("energy/factors/", figures.EnergyFactorsApi.as_view()),
    path("energy/runs/", figures.EnergyRunsApi.as_view()),
    path("energy/stages/", figures.EnergyStagesApi.as_view()),
    path("balance/stages/", figures.BalanceStagesApi.as_view()),
]
