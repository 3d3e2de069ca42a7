"""Checks of Django's that run before the database is migrated."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Error
from django.db import connections
from django.db.migrations.loader import MigrationLoader


def check_version(*, databases: Sequence[str] | None = None, **_kwargs: Any) -> list[CheckMessage]:
    """Refuse a database that a newer version has changed: an older one would write rows that lack what was added."""
    found: list[CheckMessage] = []
    for alias in databases or ():
        loader = MigrationLoader(connections[alias])
        unknown = sorted(
            f"{app}.{name}"
            for app, name in loader.applied_migrations
            if app in loader.migrated_apps and (app, name) not in loader.disk_migrations
        )
        if unknown:
            found.append(
                Error(
                    f"A newer version has changed this database ({', '.join(unknown)}).",
                    hint="Run that version again, or restore the backup made before the upgrade with this one.",
                    id="hornbook.E001",
                )
            )
    return found
