"""Addresses of the wing `setup`."""

from django.urls import path

from api.setup import change, practice, register, stages

urlpatterns = [
    path("sources/", register.SourcesApi.as_view()),
    path("sources/<int:source>/", change.SourceApi.as_view()),
    path("sources/<int:source>/erasure/", change.SourceErasureApi.as_view()),
    path("programmes/<int:programme>/", change.ProgrammeApi.as_view()),
    path("machines/<int:machine>/details/", change.MachineDetailsApi.as_view()),
    path("scales/<int:scale>/", change.ScaleApi.as_view()),
    path("containers/<int:container>/", change.ContainerApi.as_view()),
    path("programmes/", register.ProgrammesApi.as_view()),
    path("machines/", register.MachinesApi.as_view()),
    path("machines/<int:machine>/meter/", practice.MachineMeterApi.as_view()),
    path("machines/<int:machine>/barrel/", practice.MachineBarrelApi.as_view()),
    path("practice/", practice.PracticeApi.as_view()),
    path("practice/windows/", practice.PracticeWindowsApi.as_view()),
    path("practice/materials/", practice.PracticeMaterialsApi.as_view()),
    path("scales/", register.ScalesApi.as_view()),
    path("containers/", register.ContainersApi.as_view()),
    path("polymers/", register.PolymersApi.as_view()),
    path("stages/", stages.StagesApi.as_view()),
]
