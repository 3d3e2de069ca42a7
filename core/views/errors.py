"""The pages of refused, missing and failed requests."""

from __future__ import annotations

import sys
from collections.abc import Callable

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from core.outages import outage_of, outage_page
from core.request_id import request_id_var
from core.responses import page_behind


def error_page(status: int, page: str = "") -> Callable[..., HttpResponse]:
    """Return the view of an error; Django hands it what was raised, the reason, or nothing more than the request."""

    @login_not_required
    def view(request: HttpRequest, exception: Exception | None = None, reason: str = "") -> HttpResponse:
        context = {"request_id": request_id_var.get(), "page_url": page_behind(request)}
        return render(request, f"errors/{page or status}.html", context, status=status)

    return view


bad_request, permission_denied, not_found = map(error_page, (400, 403, 404))
broken = error_page(500)


@login_not_required
def server_error(request: HttpRequest) -> HttpResponse:
    """Return the page of a request that ended in an error: of ours, or of the machine's."""
    error = sys.exception()
    outage = outage_of(error)
    return outage_page(request, error, outage) if error is not None and outage else broken(request)


csrf_failure = error_page(403, "stale")  # the page was open too long: nothing was saved; reload and try again
