"""Addresses of what works without network."""

from django.urls import path

from recycling.web.offline import outbox, worker

open_patterns = [
    path("worker.js", worker.worker, name="worker"),
    path("without-network/", worker.without_network, name="without-network"),
]

urlpatterns = [
    path("outbox/", outbox.outbox, name="outbox"),
    path("outbox/who/", outbox.who, name="outbox-who"),
    path("outbox/pages/", outbox.kept_pages, name="outbox-pages"),
    path("outbox/discarded/", outbox.discarded, name="outbox-discarded"),
]
