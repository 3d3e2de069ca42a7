"""Where a request comes from, and its id: the same in the event log, in log lines and on error pages."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from ipaddress import ip_address

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware
from django.shortcuts import render

from core.exceptions import RefusedError
from core.request_id import request_id_var

COMPRESSED = frozenset({"text/html", "text/plain", "text/csv", "application/json", "image/svg+xml"})


class ClientAddressMiddleware:
    """Behind our own web servers each request seems to come from them; the entry the outermost one added says from whom.

    Without it one address would stand for everybody: the limits on reports and on wrong passwords could be used up by
    anybody for all. Entries further left are the sender's own words and count for nothing.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        told = [word.strip() for word in request.headers.get("X-Forwarded-For", "").split(",")]
        if 0 < settings.PROXIES <= len(told) and is_address(told[-settings.PROXIES]):
            request.META["REMOTE_ADDR"] = told[-settings.PROXIES]
        return self.get_response(request)


def is_address(text: str) -> bool:
    try:
        ip_address(text)
    except ValueError:
        return False
    return True


class CompressionMiddleware(GZipMiddleware):
    """Pages and text files go out compressed, with the random length that Django adds against BREACH.

    That attack (breachattack.com, 2013) guesses a secret of a page from the length of many answers to requests which
    another site makes the browser send, so what another site asks for goes out as it is. What is compressed already,
    a photo, a PDF or a workbook, gains nothing.
    """

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        kind = response.headers.get("Content-Type", "").partition(";")[0]
        if kind not in COMPRESSED or request.headers.get("Sec-Fetch-Site") in {"cross-site", "same-site"}:
            return response
        return super().process_response(request, response)


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

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """A refusal that no form shows, as of a database too busy for every try, still says that nothing was changed."""
        if not isinstance(exception, RefusedError):
            return None
        return render(request, "errors/409.html", {"detail": str(exception)}, status=409)
