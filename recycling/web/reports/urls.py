"""Addresses of the wing `reports`."""

from django.urls import path

from recycling.web.reports import asking, deeds, pages, public

open_patterns = [
    path("r/<str:token>/", public.report, name="public-report"),
    path("r/<str:token>/files/<str:kind>/", public.download, name="public-report-file"),
    path("r/<str:token>/tables/<str:key>/", public.table, name="public-report-table"),
]

urlpatterns = [
    path("reports/", pages.reports, name="reports"),
    path("reports/new/", asking.report_new, name="report-new"),
    path("reports/<str:code>/", pages.report, name="report"),
    path("reports/<str:code>/files/<str:kind>/", pages.report_download, name="report-file"),
    path("reports/<str:code>/links/", deeds.change, name="report-link-change"),
    path("reports/<str:code>/verify/", deeds.verify, name="report-verify"),
]
