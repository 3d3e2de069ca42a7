"""Each process of a run copies one migrated database, because migrating takes longer than most of what is tested.

The template is made by the migrations themselves, once for what they say. SQLite's is kept in ``var/test/``,
PostgreSQL's in the cluster. ``make check`` makes SQLite's beforehand.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connection

ROOT = Path(__file__).resolve().parents[2]
KEPT = ROOT / "var" / "test"
# What the schema and the rows of an empty installation come from.
SOURCES = ("*/migrations/*.py", "*/guard.py", "core/log_guard.py", "core/triggers.py", "requirements/app.lock")


def template_name() -> str:
    told = hashlib.sha256()
    for path in sorted(path for pattern in SOURCES for path in ROOT.glob(pattern)):
        told.update(path.read_bytes())
    return f"hornbook_{told.hexdigest()[:16]}"


@contextmanager
def _alone() -> Iterator[None]:
    KEPT.mkdir(parents=True, exist_ok=True)
    with (KEPT / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def _connect_to(name: str) -> None:
    connection.close()
    settings.DATABASES["default"]["NAME"] = connection.settings_dict["NAME"] = name


def _migrate(name: str) -> None:
    here = connection.settings_dict["NAME"]
    _connect_to(name)
    call_command("migrate", verbosity=0, interactive=False)
    _connect_to(here)


def copy_sqlite(name: str) -> None:
    template = KEPT / f"{template_name()}.sqlite3"
    with _alone():
        if not template.exists():
            for old in KEPT.glob("*.sqlite3*"):
                old.unlink()
            _migrate(str(template.with_suffix(".sqlite3-part")))
            template.with_suffix(".sqlite3-part").rename(template)
    if name:
        shutil.copyfile(template, name)


def _copy_postgresql(name: str) -> None:
    template = template_name()
    with _alone(), connection.creation._nodb_cursor() as cursor:
        cursor.execute("SELECT 1 FROM pg_database WHERE datname = %s", [template])
        if cursor.fetchone() is None:
            cursor.execute(f'DROP DATABASE IF EXISTS "{template}_part"')
            cursor.execute(f'CREATE DATABASE "{template}_part"')
            _migrate(f"{template}_part")
            cursor.execute(f'ALTER DATABASE "{template}_part" RENAME TO "{template}"')
        if name:
            cursor.execute(f'DROP DATABASE IF EXISTS "{name}"')
            cursor.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}"')


def copy_template(name: str = "") -> None:
    """Make the template unless it is there, and a database of this name from it."""
    (_copy_postgresql if connection.vendor == "postgresql" else copy_sqlite)(name)


@pytest.fixture(scope="session")
def django_db_setup(
    request: pytest.FixtureRequest,
    django_test_environment: None,
    django_db_blocker: Any,
    django_db_modify_db_settings: None,
) -> Iterator[None]:
    """In place of pytest-django's, which migrates in every process."""
    creation, before = connection.creation, connection.settings_dict["NAME"]
    name = str(creation._get_test_db_name())
    with django_db_blocker.unblock():
        copy_template(name)
        _connect_to(name)
    yield
    with django_db_blocker.unblock():
        creation.destroy_test_db(before, verbosity=0)


if __name__ == "__main__":
    import django

    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
    django.setup()
    copy_template()
