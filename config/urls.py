"""Which room answers which address. Wiring only."""

from django.conf import settings
from django.urls import URLPattern, URLResolver, include, path

from desk.views.api import api_urls

handler400 = "core.views.bad_request"
handler403 = "core.views.permission_denied"
handler404 = "core.views.not_found"
handler500 = "core.views.server_error"

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("core.urls")),
    path("", include("desk.urls")),
    path("api/", api_urls()),
    path("instruments/", include("inventory.urls")),
    path("bench/", include("repairs.urls")),
    path("loans/", include("loans.urls")),
]
if settings.DEBUG:  # the page of the look; its samples are read by nobody else
    from desk.views.look import look

    urlpatterns.append(path("look/", look))
