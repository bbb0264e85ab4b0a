"""The roof: which door answers which address."""

from django.urls import include, path

from api.health import healthz, readyz

urlpatterns = [
    path("healthz", healthz),
    path("readyz", readyz),
    path("api/v1/", include("api.urls")),
    path("", include("recycling.web.urls")),
]
handler404 = "recycling.web.failures.not_found"
handler500 = "recycling.web.failures.broken"
handler403 = "recycling.web.failures.forbidden"
handler400 = "recycling.web.failures.bad_request"
