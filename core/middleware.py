"""Every request has an id, so that all events of one act can be told together."""

from __future__ import annotations

import uuid
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from core.events import request_id_var


class RequestIdMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        token = request_id_var.set(str(uuid.uuid4()))
        try:
            response = self.get_response(request)
            response.headers["X-Request-Id"] = request_id_var.get()
        finally:
            request_id_var.reset(token)
        if getattr(request, "user", None) is not None and request.user.is_authenticated:
            # A shared phone's back button must not show the page of somebody who has logged out.
            response.headers.setdefault("Cache-Control", "no-store, private")
        return response
