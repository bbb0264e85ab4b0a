"""Addresses of pages: the door, then what is read and recorded in a workshop."""

from django.urls import include, path

from recycling.web import (
    urls_account,
    urls_energy,
    urls_labels,
    urls_meaning,
    urls_offline,
    urls_read,
    urls_record,
    urls_reports,
    urls_suspects,
    urls_tablets,
)

urlpatterns = [
    *urls_account.urlpatterns,
    *urls_offline.root_patterns,
    *urls_tablets.root_patterns,
    *urls_labels.open_patterns,
    *urls_suspects.public_patterns,
    *urls_reports.public_patterns,
    path(
        "w/<slug:slug>/",
        include(
            [
                *urls_energy.urlpatterns,
                *urls_labels.urlpatterns,
                *urls_meaning.urlpatterns,
                *urls_offline.urlpatterns,
                *urls_tablets.urlpatterns,
                *urls_record.urlpatterns,
                *urls_read.urlpatterns,
                *urls_reports.urlpatterns,
                *urls_suspects.urlpatterns,
            ]
        ),
    ),
]
