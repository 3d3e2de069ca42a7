"""What somebody with the database's own password can do to it, past the application."""

from __future__ import annotations

from typing import Any

from django.db import connection


def tamper(statement: str, *values: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
