"""The base of commands that write to the database."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from core.management.scoped import ScopedCommand

NO_DATABASE = 2


class WritingCommand(ScopedCommand):
    """Refuses to run without a database, and says what to do; it never falls back to the demo's."""

    def execute(self, *args: Any, **options: Any) -> str | None:
        if not MigrationRecorder(connection).has_table():
            raise CommandError(
                f"There is no Hornbook database at {connection.settings_dict['NAME']} yet. `make serve` creates it. "
                "To work on the demo, set DATABASE_URL=sqlite:///var/demo.sqlite3.",
                returncode=NO_DATABASE,
            )
        return super().execute(*args, **options)
