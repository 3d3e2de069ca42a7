"""Files as answers: the kind follows from the name, and nothing a browser might run is guessed from the content."""

from __future__ import annotations

from pathlib import PurePath

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.http import content_disposition_header

KINDS = {
    ".csv": "text/csv; charset=utf-8",
    ".jpg": "image/jpeg",
    ".pdf": "application/pdf",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def file_response(data: bytes, *, name: str, is_download: bool = False) -> HttpResponse:
    """Return a file to look at, or with ``is_download`` to keep. KeyError for a kind of file that we do not send."""
    kind = KINDS[PurePath(name).suffix]
    shown = content_disposition_header(as_attachment=is_download, filename=name) or "inline"
    headers = {"Content-Disposition": shown, "X-Content-Type-Options": "nosniff"}
    return HttpResponse(data, content_type=kind, headers=headers)


def home_url(request: HttpRequest) -> str:
    """Where phones reach this server: its public address, else the one this browser used; no slash at the end."""
    return str(settings.PUBLIC_ADDRESS or request.build_absolute_uri("/").rstrip("/"))
