"""Addresses of the wing `runs`."""

from __future__ import annotations

from django.urls import path

from api.runs import doors, righting

urlpatterns = [
    path("runs/", doors.RunsApi.as_view()),
    path("runs/<str:code>/", doors.RunApi.as_view()),
    path("runs/<str:code>/draws/", doors.RunDrawsApi.as_view()),
    path("runs/<str:code>/outputs/", doors.RunOutputsApi.as_view()),
    path("runs/<str:code>/losses/", doors.RunLossesApi.as_view()),
    path("runs/<str:code>/settings/", doors.RunSettingsApi.as_view()),
    path("runs/<str:code>/checks/", doors.RunChecksApi.as_view()),
    path("runs/<str:code>/close/", doors.RunCloseApi.as_view()),
    path("runs/<str:code>/void/", righting.RunVoidApi.as_view()),
    path("runs/<str:code>/void/trial/", righting.RunVoidTrialApi.as_view()),
    path("runs/<str:code>/undo/", righting.RunUndoApi.as_view()),
    path("changes/<str:code>/undo/", righting.FactsUndoApi.as_view()),
    path("postings/<int:posting>/corrections/", righting.PostingCorrectionsApi.as_view()),
    path("runs/<str:code>/model/", doors.RunModelApi.as_view()),
    path(
        "postings/<int:posting>/corrections/trial/", righting.PostingCorrectionsTrialApi.as_view()
    ),
    path("postings/<int:posting>/corrections/undo/", righting.PostingCorrectionsUndoApi.as_view()),
]
