"""Files as responses: the content type follows from the name, and browsers are told not to guess another."""

from __future__ import annotations

from collections.abc import Iterable
from email.message import Message
from pathlib import PurePath
from typing import Any
from urllib.parse import urlsplit, urlunsplit

from django.conf import settings
from django.core.exceptions import DisallowedHost
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.utils.http import content_disposition_header, url_has_allowed_host_and_scheme

KINDS = {
    ".csv": "text/csv; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".jpg": "image/jpeg",
    ".pdf": "application/pdf",
    ".svg": "image/svg+xml",
    ".txt": "text/plain; charset=utf-8",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def file_response(data: bytes, *, name: str, is_download: bool = False) -> HttpResponse:
    """Return a file to view, or with ``is_download`` to save. KeyError for a type we never send."""
    return HttpResponse(data, **_sent_as(name, is_download=is_download))


def stream_response(chunks: Iterable[bytes], *, name: str) -> StreamingHttpResponse:
    """Return a download that is generated while it is sent."""
    return StreamingHttpResponse(chunks, **_sent_as(name, is_download=True))


def _sent_as(name: str, *, is_download: bool) -> dict[str, Any]:
    shown = content_disposition_header(as_attachment=is_download, filename=name) or "inline"
    headers = {"Content-Disposition": shown, "X-Content-Type-Options": "nosniff"}
    return {"content_type": KINDS[PurePath(name).suffix], "headers": headers}


def name_in(disposition: str) -> str:
    """Return the file's name that a Content-Disposition header holds, "" where it holds none."""
    message = Message()
    message["Content-Disposition"] = disposition
    return message.get_filename("")


def is_ours(request: HttpRequest, address: str) -> bool:
    """Whether an address leads to this server, as the browser asked for it. DisallowedHost if it asked for another."""
    return url_has_allowed_host_and_scheme(address, {request.get_host()}, require_https=request.is_secure())


def page_behind(request: HttpRequest) -> str:
    """Return the page of ours that a form was sent from, or "": where it is filled in again after an error."""
    sender = request.headers.get("Referer", "") if request.method == "POST" else ""
    try:
        if not is_ours(request, sender):
            return ""
    except DisallowedHost:
        return ""
    parts = urlsplit(sender)
    return urlunsplit(("", "", parts.path, parts.query, ""))


def home_url(request: HttpRequest) -> str:
    """Return this server's public address, or else the one this browser used, without a trailing slash."""
    return str(settings.PUBLIC_ADDRESS or request.build_absolute_uri("/").rstrip("/"))
