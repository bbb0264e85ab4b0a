"""Addresses of the wing `labels`."""

from django.urls import path, re_path

from recycling.web.labels import links, opened, pages, scan, spool_page

open_patterns = [
    path("scan-worker.js", scan.worker, name="scan-worker"),
    re_path(
        r"^[qQ]/(?P<of>[-a-zA-Z0-9_]{1,40})/(?P<code>[^/]{1,40})(?:/(?P<token>[A-Za-z0-9_-]{1,60}))?/?$",
        opened.label,
        name="label-opened",
    ),
    path("v/<str:token>/", spool_page.spool, name="public-spool"),
]

urlpatterns = [
    path("labels/", pages.labels, name="labels"),
    path("labels/choose/", pages.choose, name="labels-choose"),
    path("labels/links/", pages.links, name="labels-links"),
    path("labels/labels.pdf", pages.as_pdf, name="labels-pdf"),
    path("labels/page.svg", pages.page, name="labels-page"),
    path("labels/print/", pages.printed, name="labels-print"),
    path("labels/<str:sheet>.css", pages.paper, name="labels-paper"),
    path("lots/<str:code>/label.svg", pages.lot_label, name="lot-label"),
    path("lots/<str:code>/labels/", pages.lot_labels, name="lot-labels"),
    path("lots/<str:code>/public/", links.link, name="spool-link"),
    path("lots/<str:code>/public/change/", links.change, name="spool-link-change"),
]
