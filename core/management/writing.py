"""The base of commands that write."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

NO_DATABASE = 2


class WritingCommand(BaseCommand):
    """Refuses, with what to do, where no installation has begun: the demo's database is never taken instead."""

    def execute(self, *args: Any, **options: Any) -> str | None:
        if not MigrationRecorder(connection).has_table():
            raise CommandError(
                f"There is no Hornbook database at {connection.settings_dict['NAME']} yet. `make serve` begins one. "
                "To work on the demo, set DATABASE_URL=sqlite:///var/demo.sqlite3.",
                returncode=NO_DATABASE,
            )
        return super().execute(*args, **options)
