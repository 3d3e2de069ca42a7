"""What gave out is told from the error; a fault of the code stays one, with its traceback."""

from __future__ import annotations

import errno
import sqlite3
from pathlib import Path

import pytest
from django.db import DatabaseError, Error, InterfaceError, OperationalError, ProgrammingError, connections

from core.outages import DATABASE, FILES, open_only_what_is_there, outage_of


def raised(kind: type[Error], words: str = "words", **about: object) -> Error:
    error = kind(words)
    error.__cause__ = sqlite3.OperationalError(words) if "sqlite_errorcode" in about else Exception(words)
    for name, value in about.items():
        setattr(error.__cause__, name, value)
    return error


@pytest.mark.parametrize(
    ("error", "outage"),
    [
        (raised(OperationalError, sqlite_errorcode=sqlite3.SQLITE_CANTOPEN), DATABASE),
        (raised(OperationalError, sqlite_errorcode=sqlite3.SQLITE_IOERR | 10 << 8), DATABASE),
        (raised(DatabaseError, sqlite_errorcode=sqlite3.SQLITE_NOTADB), DATABASE),
        (raised(OperationalError, "no such table: core_user", sqlite_errorcode=sqlite3.SQLITE_ERROR), DATABASE),
        (raised(OperationalError, 'near "FORM": syntax error', sqlite_errorcode=sqlite3.SQLITE_ERROR), ""),
        (raised(OperationalError, "no such column: x", sqlite_errorcode=sqlite3.SQLITE_ERROR), ""),
        (raised(OperationalError, sqlstate="57P01"), DATABASE),
        (raised(OperationalError, sqlstate="53100"), DATABASE),
        (raised(DatabaseError, sqlstate="25006"), DATABASE),
        (raised(OperationalError, sqlstate="40P01"), ""),
        (raised(ProgrammingError, sqlstate="42601"), ""),
        (raised(OperationalError, "connection refused", sqlstate=None), DATABASE),
        (raised(InterfaceError, "the connection is closed"), DATABASE),
        (raised(ProgrammingError, "no results to fetch"), ""),
        (OSError(errno.ENOSPC, "No space left on device"), FILES),
        (OSError(errno.EROFS, "Read-only file system"), FILES),
        (OSError(errno.ENOENT, "No such file", "/etc/none"), ""),
        (BrokenPipeError(errno.EPIPE, "Broken pipe"), ""),
        (ValueError("a fault of ours"), ""),
        (None, ""),
    ],
)
def test_what_gave_out(error, outage):
    assert outage_of(error) == outage


def test_a_file_that_is_not_there_counts_where_ours_are_kept(settings):
    lost = str(Path(settings.MEDIA_ROOT) / "photos" / "a.jpg")
    assert outage_of(FileNotFoundError(errno.ENOENT, "No such file", lost)) == FILES
    assert outage_of(PermissionError(errno.EACCES, "Permission denied", lost)) == FILES


def test_a_server_never_makes_the_file_of_a_database(monkeypatch):
    entry = {"ENGINE": "django.db.backends.sqlite3", "NAME": "/srv/a b#/hornbook.sqlite3"}
    monkeypatch.setitem(connections.settings, "default", entry)
    for _ in range(2):
        open_only_what_is_there()
        assert entry["NAME"] == "file:/srv/a%20b%23/hornbook.sqlite3?mode=rw"
