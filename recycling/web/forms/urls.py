"""Addresses of what is recorded."""

from django.urls import path

from recycling.web.forms import page, stages

urlpatterns = [
    path("record/", stages.record, name="record"),
    path("recorded/<slug:token>/", page.recorded, name="recorded"),
]
