"""The client's address, the request's id for the event log and error pages, and what comes before anything else."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from math import ceil
from time import perf_counter
from typing import Any
from urllib.parse import unquote

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.contrib.messages import ERROR, get_messages
from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware
from django.shortcuts import redirect, render
from django.utils import timezone

from core.exceptions import PausedError, RefusedError
from core.hooks import enter_all
from core.metrics import count_paused_log_in, count_request
from core.networks import network_of
from core.request_id import request_id_var
from core.responses import page_behind
from core.views.health import health
from core.waited import HEADER, waiting

HEALTH = "/healthz"
BEFORE_A_PASSWORD = {"core:password", "core:log-out"}
BEFORE_A_STEP = BEFORE_A_PASSWORD | {
    "core:me", "core:confirm", "core:add-codes", "core:add-passkey", "core:recovery-codes",
}  # fmt: skip
LEADS_ON = frozenset({302, 303})
KEY_OF_A_FORM = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
COMPRESSED = frozenset(
    {"text/html", "text/plain", "text/css", "text/csv", "text/javascript", "application/json", "image/svg+xml"}
)


class Middleware:
    """What each of these is; by itself it hands every request on."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)


class ClientAddressMiddleware(Middleware):
    """Behind our own proxies, takes the client's address from the entry that the outermost one added.

    Otherwise all clients would share one address, and one of them could use up everyone's limits on problem reports
    and failed log-ins. Entries further left were sent by the client and cannot be trusted.
    """

    def __call__(self, request: HttpRequest) -> HttpResponse:
        hops = [word.strip() for word in request.headers.get("X-Forwarded-For", "").split(",")]
        if 0 < settings.PROXIES <= len(hops) and network_of(hops[-settings.PROXIES]):
            request.META["REMOTE_ADDR"] = hops[-settings.PROXIES]
        return self.get_response(request)


class ScopeMiddleware(Middleware):
    """Enters what holds from the moment a request came in: the district's time zone and figures (core/hooks.py)."""

    def __call__(self, request: HttpRequest) -> HttpResponse:
        enter_all(timezone.now())
        return self.get_response(request)


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


class HealthMiddleware(Middleware):
    """Answers /healthz to whoever asks, by any name of this machine and without HTTPS.

    What watches the server asks it directly, as http://127.0.0.1:8000/healthz, past the proxy: there the names and the
    encryption that every other page insists on would refuse it. The answer is one word and depends on nothing asked.
    """

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return health(request) if request.path_info == HEALTH else self.get_response(request)


class MetricsMiddleware(Middleware):
    """Counts answers by page, and how long they took to make."""

    def __call__(self, request: HttpRequest) -> HttpResponse:
        started = perf_counter()
        response = self.get_response(request)
        page = request.resolver_match
        count_request(
            view=page.view_name if page else "",
            method=request.method or "",
            status=response.status_code,
            seconds=perf_counter() - started,
        )
        return response


class SavedFormMiddleware(Middleware):
    """Tells the browser which form was saved: one kept on the device waits there until it hears so.

    The form sends its key as ``kept``; the answer carries it back as a cookie's name, which the next page's script
    reads and deletes (static/js/kept-forms.js). Saved means: a view took it from somebody logged in, and led on
    without an error. It stands last, so that its ``process_view`` is asked only where nothing before it led elsewhere.
    """

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with waiting(request):
            response = self.get_response(request)
        if getattr(request, "is_viewed", False) and response.status_code in LEADS_ON and request.user.is_authenticated:
            key = request.POST.get("kept", "")
            queued = getattr(get_messages(request), "_queued_messages", [])
            is_saved = not any(message.level >= ERROR for message in queued)
            if HEADER in request.headers:
                return self.answer_to_queue(response, queued, is_saved=is_saved)
            if KEY_OF_A_FORM.fullmatch(key) and is_saved:
                age = settings.DEVICE_HOURS * 3600
                response.set_cookie(
                    f"saved-{key}", "1", max_age=age, secure=settings.SESSION_COOKIE_SECURE, samesite="Lax"
                )
        return response

    def answer_to_queue(self, response: HttpResponse, queued: list[Any], *, is_saved: bool) -> HttpResponse:
        """Tell a script that sends what was kept without a signal where the answer leads, and what it says."""
        words = " ".join(str(message) for message in queued)
        queued.clear()
        if is_saved:
            return JsonResponse({"ok": True, "url": response["Location"], "says": words})
        return JsonResponse({"ok": False, "refused": words}, status=409)

    def process_view(self, request: HttpRequest, view: Callable[..., HttpResponse], args: Any, kwargs: Any) -> None:
        request.is_viewed = request.method == "POST"  # type: ignore[attr-defined]  # asked for above alone


class RequestIdMiddleware(Middleware):
    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.request_id = str(uuid.uuid4())  # type: ignore[attr-defined]  # for core.request_id, once this is left
        token = request_id_var.set(request.request_id)  # type: ignore[attr-defined]
        try:
            response = self.get_response(request)
            response.headers["X-Request-Id"] = request_id_var.get()
        finally:
            request_id_var.reset(token)
        if getattr(request, "outage", ""):
            return response  # it asks the database nothing more
        if getattr(request, "user", None) is not None and request.user.is_authenticated:
            # On a shared phone, the back button must not show pages of someone who has logged out.
            response.headers.setdefault("Cache-Control", "no-store, private")
        return response

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """A refusal that no form shows, as of a database always too busy, still says that nothing was changed."""
        if isinstance(exception, PausedError):
            return paused(request, exception.until)
        if not isinstance(exception, RefusedError):
            return None
        context = {"detail": str(exception), "page_url": page_behind(request)}
        return render(request, "errors/409.html", context, status=409)


def paused(request: HttpRequest, until: datetime) -> HttpResponse:
    """Say until when no try to log in is looked at, in whole minutes, so that the minute shown is late enough."""
    count_paused_log_in()
    shown = timezone.localtime(until + timedelta(seconds=59)).replace(second=0, microsecond=0)
    context = {"until": shown, "is_today": shown.date() == timezone.localdate()}
    response = render(request, "core/log_in_locked.html", context, status=429)
    response.headers["Retry-After"] = str(max(1, ceil((until - timezone.now()).total_seconds())))
    return response


class IncomingMiddleware(Middleware):
    """Refuses a body by its length before anything of it is read, and text that no database holds.

    Stands before the check of the form's token, which reads the whole body. A stranger sends little; who was logged in
    and sends much is shown the way back in, and what waits on the device is sent again from there.
    """

    def process_view(
        self, request: HttpRequest, view: Callable[..., HttpResponse], args: Any, kwargs: Any
    ) -> HttpResponse | None:
        if any("\x00" in sent for sent in (request.path_info, unquote(request.META.get("QUERY_STRING", "")))):
            raise BadRequest("a NUL, which PostgreSQL does not store")
        sent, is_staff_page = body_length(request), getattr(view, "login_required", True)
        if sent > settings.STRANGERS_BODY_BYTES:
            if is_staff_page and not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            most = most_bytes(view) if is_staff_page else settings.STRANGERS_BODY_BYTES
            if sent > most:
                shown = {"sent": sent, "most": most, "request_id": request_id_var.get()}
                return render(request, "errors/413.html", shown, status=413)
        return None


def body_length(request: HttpRequest) -> int:
    """Return the bytes that the client says it sends; Django reads no more than that, and none if it does not say."""
    header = request.META.get("CONTENT_LENGTH") or "0"
    return int(header) if header.isascii() and header.isdigit() else 0


def most_bytes(view: Callable[..., HttpResponse]) -> int:
    """Return the bytes that a page of the staff takes: what is typed and signed, and the files it asks for."""
    uploads: int = getattr(getattr(view, "view_class", None), "uploads", 0)
    return settings.DATA_UPLOAD_MAX_MEMORY_SIZE + uploads * settings.UPLOAD_MAX_BYTES


class FirstThingsMiddleware(Middleware):
    """Sends whoever must choose a password or add a second step there, before any other page for staff."""

    def process_view(
        self, request: HttpRequest, view: Callable[..., HttpResponse], args: Any, kwargs: Any
    ) -> HttpResponse | None:
        if not getattr(view, "login_required", True) or not request.user.is_authenticated:
            return None
        name = request.resolver_match.view_name if request.resolver_match else ""
        if request.user.password_is_first:
            return None if name in BEFORE_A_PASSWORD else redirect("core:password")
        if request.user.second_step_due:
            return None if name in BEFORE_A_STEP else redirect("core:me")
        return None
