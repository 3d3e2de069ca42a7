"""When the machine gives out under a request: the database is away or damaged, a disk is full, a folder is gone.

None of it is a fault of the code, so it is one log line without a traceback, and a page that says what to do. The
transaction took the act back; what was saved before is safe.
"""

from __future__ import annotations

import errno
import logging
import sqlite3
from pathlib import Path
from urllib.parse import quote

from django.conf import settings
from django.db import Error, InterfaceError, OperationalError, connections
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string

from core.request_id import request_id_var

logger = logging.getLogger(__name__)

DATABASE, FILES = "database", "files"
SQLITE_CODES = {
    sqlite3.SQLITE_BUSY,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_CORRUPT,
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_LOCKED,
    sqlite3.SQLITE_NOLFS,
    sqlite3.SQLITE_NOMEM,
    sqlite3.SQLITE_NOTADB,
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_PROTOCOL,
    sqlite3.SQLITE_READONLY,
}
# Classes of PostgreSQL's codes: connection, resources (a full disk, too many connections), shut down, system, damaged;
# and one code: it answers reads alone.
STATES = ("08", "53", "57P", "58", "XX", "25006")
# Whatever the file is; the others count where the file is one of those we keep.
DISK = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EIO, errno.ENFILE, errno.EMFILE}
PLACE = {errno.EACCES, errno.EPERM, errno.ENOENT, errno.ENOTDIR, errno.ESTALE}
RETRY_AFTER_S = 30


def outage_of(error: BaseException | None) -> str:
    """Return what gave out, DATABASE or FILES, or "" when the error is of the code's own making."""
    if isinstance(error, Error):
        return DATABASE if _is_databases(error) else ""
    if isinstance(error, OSError) and (error.errno in DISK or (error.errno in PLACE and _is_kept(error.filename))):
        return FILES
    return ""


def _is_databases(error: Error) -> bool:
    cause = error.__cause__
    code = getattr(cause, "sqlite_errorcode", None)
    if code is not None:
        # A table that is not there: the file was changed for an empty one.
        return (code & 0xFF) in SQLITE_CODES or str(error).startswith("no such table")
    if state := getattr(cause, "sqlstate", None):
        return str(state).startswith(STATES)
    # Without a code, the connection never came about or was lost.
    return isinstance(error, OperationalError | InterfaceError)


def _is_kept(name: object) -> bool:
    return isinstance(name, str | Path) and Path(name).is_relative_to(settings.MEDIA_ROOT)


def outage_page(request: HttpRequest, error: BaseException, outage: str) -> HttpResponse:
    """Return the page, and log it once for the request. It needs no database: nobody is asked who is logged in."""
    if not getattr(request, "outage", ""):
        cause = error.__cause__ or error
        words = " ".join(str(error).split())[:300]
        logger.error(
            "%s %s: the %s gave out: %s: %s", request.method, request.path, outage, type(cause).__name__, words
        )
    request.outage = outage  # type: ignore[attr-defined]  # for the middleware on the way out
    shown = {"request_id": request_id_var.get(), "is_files": outage == FILES}
    response = HttpResponse(render_to_string("errors/503.html", shown), status=503)
    response.headers["Cache-Control"] = "no-store"
    response.headers["Retry-After"] = str(RETRY_AFTER_S)
    response._has_been_logged = True  # type: ignore[attr-defined]  # Django's own mark: its line would be the second
    return response


def open_only_what_is_there() -> None:
    """Let this process open SQLite's file but never make one: an empty one in its place would pass for a new district.

    For what ``make serve`` starts: the server, the worker and the metrics. ``migrate`` makes the file.
    """
    entry = connections.settings["default"]
    name = str(entry["NAME"])
    if entry["ENGINE"].endswith("sqlite3") and not name.startswith("file:"):
        entry["NAME"] = f"file:{quote(name)}?mode=rw"
