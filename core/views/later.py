"""A page or file that takes too long for its request is asked for once more by the worker, as the same person.

The view is the same, and so are its permission and the rows it sees. It calls ``do_later`` where it would take long, unless
``is_replayed`` says that it is the worker who asks; the worker keeps the file of its answer.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from datetime import datetime
from tempfile import SpooledTemporaryFile
from typing import Any, TypeVar, cast
from urllib.parse import urlsplit

from django.core.exceptions import PermissionDenied
from django.core.handlers.wsgi import WSGIRequest
from django.db.models import Model, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import resolve, reverse
from django.utils import timezone
from django.utils.translation import gettext
from django_htmx.middleware import HtmxDetails

from core.exceptions import RefusedError
from core.long_work import IN_SESSION, queue_work
from core.models import LongWork
from core.responses import name_in
from core.services.long_work import REPLAY, Outcome, make_once

Row = TypeVar("Row", bound=Model)
IN_MEMORY = 2**22  # bytes of a file; a larger one goes onto the disk
WORDS, SEARCH = "q", "search"  # what was typed to search by, and the key of what stands in the session
TYPED = {WORDS, SEARCH, "funding"}  # what is typed may name somebody


def is_replayed(request: HttpRequest) -> bool:
    """Whether it is the worker who asks."""
    return work_of(request) is not None


def work_of(request: HttpRequest) -> LongWork | None:
    """The work that the worker asks for, None where a browser asks."""
    return getattr(request, "work", None)


def is_for_worker(request: HttpRequest) -> bool:
    """Whether what takes long is left to the worker: not to itself, nor what was typed to search by, which it never gets."""
    typed = {*request.GET, *request.POST} & TYPED
    return not is_replayed(request) and not any(request.GET.get(name) or request.POST.get(name) for name in typed)


def start_work(request: Any, *, function: str, title: str, permission: str, **given: Any) -> str:
    """Queue long work for whoever asks, and return the address of the page that says how far it is."""
    row = queue_work(
        function=function, title=title, person=request.user, at=timezone.now(), permission=permission, **given
    )
    request.session[IN_SESSION] = True
    return reverse("core:work-one", args=[row.pk])


def do_later(request: Any, *, title: str, permission: str) -> HttpResponse:
    """Have the worker ask for this address. What is posted may hold keys and codes only."""
    posted = request.POST.copy()
    posted.pop("csrfmiddlewaretoken", None)
    arguments = {
        "address": request.get_full_path(),
        "posted": posted.urlencode() if request.method == "POST" else None,
        "host": request.get_host(),
        "scheme": request.scheme,
    }
    return redirect(start_work(request, function=REPLAY, title=title, permission=permission, arguments=arguments))


def made_once(request: Any, make: Callable[[], Sequence[Row]], *, rows: QuerySet[Row]) -> list[Row]:
    """Make rows and return them; a second attempt of the worker returns those the first made, read from ``rows``."""
    work = work_of(request)
    if work is None:
        return list(make())
    return make_once(work=work, make=make, rows=rows, actor=request.user, at=timezone.now())


def replay_request(row: LongWork, at: datetime) -> Outcome:
    """Ask for the address and keep the file that it answers with; RefusedError with what it says where it has none."""
    texts: list[str] = []
    request = _request(row, texts)
    found = resolve(request.path_info)
    try:
        answer: Any = found.func(request, *found.args, **found.kwargs)
    except (PermissionDenied, Http404):
        raise RefusedError(gettext("You no longer have access to this.")) from None
    try:
        shown = answer.headers.get("Content-Disposition", "")
        if answer.status_code != 200 or not shown:
            raise RefusedError(" ".join(texts) or gettext("No file was created. Request it again from its page."))
        file = SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115  # it is read when it is kept
        pieces: Any = answer if answer.streaming else [answer.content]
        for piece in pieces:
            file.write(piece)
        file.seek(0)
    finally:
        for close in answer._resource_closers:  # its own close() would end a request, and with it the connection
            close()
    return Outcome(file=file, file_name=name_in(shown))


class _Messages:
    """Collects the messages of a view."""

    def __init__(self, texts: list[str]) -> None:
        self._texts = texts

    def add(self, level: int, message: str, extra_tags: str = "") -> None:
        self._texts.append(str(message))


def _request(row: LongWork, texts: list[str]) -> WSGIRequest:
    address, posted = urlsplit(row.arguments["address"]), row.arguments["posted"]
    body = (posted or "").encode()
    request: Any = WSGIRequest(
        {
            "REQUEST_METHOD": "GET" if posted is None else "POST",
            "PATH_INFO": address.path,
            "QUERY_STRING": address.query,
            "CONTENT_TYPE": "application/x-www-form-urlencoded",
            "CONTENT_LENGTH": str(len(body)),
            "HTTP_HOST": row.arguments["host"],
            "SERVER_NAME": "worker",
            "SERVER_PORT": "443" if row.arguments["scheme"] == "https" else "80",
            "wsgi.url_scheme": row.arguments["scheme"],
            "wsgi.input": io.BytesIO(body),
        }
    )
    request.work = row
    request.user = row.person
    request.session = {}
    request.htmx = HtmxDetails(request)
    request._messages = _Messages(texts)
    return cast("WSGIRequest", request)
