"""Another place for a database and its files, empty, to restore a backup into; the tests' own comes back afterward."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.db import connection

from core.backups.database import our_tables


@contextmanager
def another_place(folder: Path, settings: Any) -> Iterator[None]:
    """Within, the default connection and the media folder are new and empty. For transactional tests."""
    own, media, var = connection.settings_dict["NAME"], settings.MEDIA_ROOT, settings.VAR_DIR
    folder.mkdir()
    name = str(folder / "hornbook.sqlite3")
    if connection.vendor == "postgresql":
        name = f"place_{uuid.uuid4().hex[:12]}"
        with connection.cursor() as cursor:
            cursor.execute(f"CREATE DATABASE {name}")
    _turn_to(name)
    settings.MEDIA_ROOT, settings.VAR_DIR = folder / "media", folder
    try:
        yield
    finally:
        _turn_to(own)
        settings.MEDIA_ROOT, settings.VAR_DIR = media, var
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute(f"DROP DATABASE {name} WITH (FORCE)")


def _turn_to(name: str) -> None:
    connection.close()
    connection.settings_dict["NAME"] = name


def all_rows() -> dict[str, list[Any]]:
    """Every row of every table of ours, as text, in an order of its own."""
    found = {}
    with connection.cursor() as cursor:
        for table in our_tables():
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")  # noqa: S608  # our own names
            found[table] = sorted(repr(row) for row in cursor.fetchall())
    return found


def all_files(media: Path) -> dict[str, bytes]:
    return {str(path.relative_to(media)): path.read_bytes() for path in media.rglob("*") if path.is_file()}
