"""What somebody with the database's own password can do to it, past the application and past the triggers."""

from __future__ import annotations

from typing import Any

from django.db import connection

from core.log_guard import unguarded


def tamper(statement: str, *values: Any) -> None:
    with unguarded(), connection.cursor() as cursor:
        cursor.execute(statement, values)
