"""Which room answers which address. Wiring only."""

from django.urls import include, path

from desk.views.api import api_urls

handler400 = "core.views.bad_request"
handler403 = "core.views.permission_denied"
handler404 = "core.views.not_found"
handler500 = "core.views.server_error"

urlpatterns = [
    path("", include("core.urls")),
    path("", include("desk.urls")),
    path("api/", api_urls()),
    path("instruments/", include("inventory.urls")),
    path("bench/", include("repairs.urls")),
    path("loans/", include("loans.urls")),
]
