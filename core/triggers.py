"""Rules that the database itself keeps, by triggers, for whoever asks, the application too.

SQLite alters most tables by making a new one, without triggers. So a migration that alters a guarded table there, or
that has to do what is refused, takes them down before and puts them up after; ``missing`` says if one is not there.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from django.db import DEFAULT_DB_ALIAS, connections, transaction

REFUSE = "BEGIN RAISE EXCEPTION USING MESSAGE = TG_ARGV[0], ERRCODE = 'integrity_constraint_violation'; END"
TRUNCATE = "TRUNCATE"


class Refusal(NamedTuple):
    """What a trigger refuses: a statement on a table, where the condition holds of the row ("": always)."""

    table: str
    statement: str
    condition: str
    message: str
    is_on_postgresql: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Guard:
    """Triggers that stand together, by name. ``function`` is what PostgreSQL calls when one refuses."""

    about: str
    function: str
    refusals: Mapping[str, Refusal]
    emptied: Mapping[str, tuple[str, str]] = field(default_factory=dict)  # PostgreSQL can empty a table at once

    def put_up(self, _apps: Any = None, schema_editor: Any = None) -> None:
        """Put up every trigger, in place of those that are there."""
        connection = _connection(schema_editor)
        self.take_down(_apps, schema_editor)
        _execute(connection, *(self._on_postgresql() if connection.vendor == "postgresql" else self._on_sqlite()))

    def take_down(self, _apps: Any = None, schema_editor: Any = None) -> None:
        """Take the triggers down, for a migration that alters the tables; ``put_up`` puts them up again."""
        connection = _connection(schema_editor)
        if connection.vendor == "postgresql":
            drops = [f"DROP TRIGGER IF EXISTS {name} ON {one.table}" for name, one in self._of_postgresql().items()]
            # What waits to be checked at the end of the transaction would keep the table from being altered.
            _execute(connection, "SET CONSTRAINTS ALL IMMEDIATE", *drops, "SET CONSTRAINTS ALL DEFERRED")
        else:
            _execute(connection, *(f"DROP TRIGGER IF EXISTS {name}" for name in self.refusals))

    @contextmanager
    def down(self) -> Iterator[None]:
        """Let what is refused be done inside, all or nothing. For a migration's function, never for the application."""
        with transaction.atomic():
            self.take_down()
            yield
            self.put_up()

    def missing(self) -> Iterator[str]:
        """Yield a sentence for each trigger that is not there, says something else or is switched off."""
        connection = connections[DEFAULT_DB_ALIAS]
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                triggers = self._of_postgresql()
                wanted = dict.fromkeys(triggers, REFUSE)
                conditional = [name for name, one in triggers.items() if one.condition]
                cursor.execute(
                    "SELECT tgname, prosrc FROM pg_trigger JOIN pg_proc ON pg_proc.oid = tgfoid"
                    " WHERE tgenabled = 'A' AND tgrelid = ANY(%s::regclass[])"
                    " AND (tgqual IS NULL OR tgname = ANY(%s))",
                    [sorted({one.table for one in triggers.values()}), conditional],
                )
            else:
                wanted = dict(zip(self.refusals, self._on_sqlite(), strict=True))
                cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
            there = dict(cursor.fetchall())
        for name, written in wanted.items():
            if there.get(name) != written:
                yield f"{self.about} not guarded: the database's trigger {name} is missing, changed or switched off"

    def _on_sqlite(self) -> list[str]:
        return [
            f"CREATE TRIGGER {name} BEFORE {one.statement} ON {one.table}"
            f"{f' WHEN {one.condition}' if one.condition else ''} BEGIN SELECT RAISE(ABORT, '{one.message}'); END"
            for name, one in self.refusals.items()
        ]

    def _on_postgresql(self) -> Iterator[str]:
        yield (
            f"CREATE OR REPLACE FUNCTION {self.function}() RETURNS trigger LANGUAGE plpgsql"
            f" AS $function${REFUSE}$function$"
        )
        for name, one in self._of_postgresql().items():
            level = "STATEMENT" if one.statement == TRUNCATE else "ROW"
            yield (
                f"CREATE TRIGGER {name} BEFORE {one.statement} ON {one.table} FOR EACH {level}"
                f"{f' WHEN ({one.condition})' if one.condition else ''} EXECUTE FUNCTION {self.function}('{one.message}')"
            )
            yield f"ALTER TABLE {one.table} ENABLE ALWAYS TRIGGER {name}"  # also where a session calls itself a replica

    def _of_postgresql(self) -> dict[str, Refusal]:
        emptied = {name: Refusal(table, TRUNCATE, "", message) for name, (table, message) in self.emptied.items()}
        return {name: one for name, one in self.refusals.items() if one.is_on_postgresql} | emptied


def _connection(schema_editor: Any) -> Any:
    return schema_editor.connection if schema_editor is not None else connections[DEFAULT_DB_ALIAS]


def _execute(connection: Any, *statements: str) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
