"""Addresses of the wing `integrity`."""

from django.urls import path

from recycling.web.integrity import archives, audit

urlpatterns = [
    path("exports/archive/", archives.archive_new, name="export-archive"),
    path("exports/archive/<int:number>/", archives.archive_page, name="export-archive-made"),
    path(
        "exports/archive/<int:number>/file/",
        archives.archive_download,
        name="export-archive-file",
    ),
    path("audit/", audit.audit, name="audit"),
]
