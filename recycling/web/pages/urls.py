"""Addresses of what every page may lead to."""

from django.urls import path

from recycling.web.pages import find, legend, trace

urlpatterns = [
    path("find/", find.find, name="find"),
    path("legend/", legend.legend, name="legend"),
    path("trace/", trace.trace, name="trace"),
]
