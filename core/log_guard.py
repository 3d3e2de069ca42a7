"""Triggers by which the database itself refuses to change or delete events, for whoever asks, the application too.

Events are only added, each after the last; the head only goes forward. A migration that has to touch events, or that
alters their table (SQLite then makes a new one, without triggers), stands between ``unguard`` and ``guard``:

    operations = [
        migrations.RunPython(unguard, guard),
        ...,
        migrations.RunPython(guard, unguard),
    ]

``verify`` says so if a trigger is missing or switched off.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections, transaction

EVENTS, HEAD = "core_event", "core_eventhead"
CHANGED, DELETED, ADDED = "events are never changed", "events are never deleted", "events are only added at the end"
HEAD_MOVED, HEAD_GONE, HEAD_TWICE = (
    "the head of the event log only goes forward",
    "the head of the event log is never deleted",
    "the event log has one head",
)
IS_BACK = (
    "NEW.id <> OLD.id OR NEW.last_number < OLD.last_number"
    " OR (NEW.last_number = OLD.last_number AND NEW.last_hash <> OLD.last_hash)"
)
IS_THERE = "EXISTS (SELECT 1 FROM core_event WHERE id = NEW.id OR number >= NEW.number OR hash = NEW.hash)"

# name: table, statement, condition on a row ("" for every one), what is said
TRIGGERS = {
    "event_not_changed": (EVENTS, "UPDATE", "", CHANGED),
    "event_not_deleted": (EVENTS, "DELETE", "", DELETED),
    # Without it, SQLite's INSERT OR REPLACE would delete a row, and no trigger would see that.
    "event_added_last": (EVENTS, "INSERT", IS_THERE, ADDED),
    "head_forward": (HEAD, "UPDATE", IS_BACK, HEAD_MOVED),
    "head_not_deleted": (HEAD, "DELETE", "", HEAD_GONE),
    "head_once": (HEAD, "INSERT", "EXISTS (SELECT 1 FROM core_eventhead)", HEAD_TWICE),
}
# PostgreSQL replaces no row on insert, and can empty a table at once.
ON_POSTGRESQL = {name: one for name, one in TRIGGERS.items() if name not in {"event_added_last", "head_once"}}
FUNCTION = "BEGIN RAISE EXCEPTION USING MESSAGE = TG_ARGV[0], ERRCODE = 'integrity_constraint_violation'; END"
EMPTIED = {"event_not_emptied": (EVENTS, DELETED), "head_not_emptied": (HEAD, HEAD_GONE)}


def guard(_apps: Any = None, schema_editor: Any = None) -> None:
    """Put up every trigger, in place of those that are there."""
    connection = _connection(schema_editor)
    unguard(_apps, schema_editor)
    _execute(connection, *(_on_postgresql() if connection.vendor == "postgresql" else _on_sqlite()))


def unguard(_apps: Any = None, schema_editor: Any = None) -> None:
    """Take the triggers down, for a migration that touches events; ``guard`` puts them up again."""
    connection = _connection(schema_editor)
    if connection.vendor == "postgresql":
        drops = [f"DROP TRIGGER IF EXISTS {name} ON {table}" for name, (table, *_) in (ON_POSTGRESQL | EMPTIED).items()]
        # What waits to be checked at the end of the transaction would keep the table from being altered.
        _execute(connection, "SET CONSTRAINTS ALL IMMEDIATE", *drops, "SET CONSTRAINTS ALL DEFERRED")
    else:
        _execute(connection, *(f"DROP TRIGGER IF EXISTS {name}" for name in TRIGGERS))


@contextmanager
def unguarded() -> Iterator[None]:
    """Let events be touched inside, all or nothing. For a migration's own function, never for the application."""
    with transaction.atomic():
        unguard()
        yield
        guard()


def missing_guards() -> Iterator[str]:
    """Yield a sentence for each trigger that is not there or switched off."""
    connection = connections[DEFAULT_DB_ALIAS]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            wanted = dict.fromkeys((*ON_POSTGRESQL, *EMPTIED), FUNCTION)
            cursor.execute(
                "SELECT tgname, prosrc FROM pg_trigger JOIN pg_proc ON pg_proc.oid = tgfoid"
                " WHERE tgenabled = 'A' AND tgrelid IN (%s::regclass, %s::regclass)"
                " AND (tgqual IS NULL OR tgname = 'head_forward')",
                [EVENTS, HEAD],
            )
        else:
            wanted = dict(zip(TRIGGERS, _on_sqlite(), strict=True))
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        there = dict(cursor.fetchall())
    for name, written in wanted.items():
        if there.get(name) != written:
            yield f"the event log is not guarded: the database's trigger {name} is missing, changed or switched off"


def _on_sqlite() -> list[str]:
    return [
        f"CREATE TRIGGER {name} BEFORE {statement} ON {table}{f' WHEN {condition}' if condition else ''}"
        f" BEGIN SELECT RAISE(ABORT, '{said}'); END"
        for name, (table, statement, condition, said) in TRIGGERS.items()
    ]


def _on_postgresql() -> Iterator[str]:
    yield (
        "CREATE OR REPLACE FUNCTION refuse_for_event_log() RETURNS trigger LANGUAGE plpgsql"
        f" AS $function${FUNCTION}$function$"
    )
    each = {
        name: (table, statement, "ROW", condition, said)
        for name, (table, statement, condition, said) in ON_POSTGRESQL.items()
    }
    each |= {name: (table, "TRUNCATE", "STATEMENT", "", said) for name, (table, said) in EMPTIED.items()}
    for name, (table, statement, level, condition, said) in each.items():
        yield (
            f"CREATE TRIGGER {name} BEFORE {statement} ON {table} FOR EACH {level}"
            f"{f' WHEN ({condition})' if condition else ''} EXECUTE FUNCTION refuse_for_event_log('{said}')"
        )
        yield f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {name}"  # also where a session calls itself a replica


def _connection(schema_editor: Any) -> Any:
    return schema_editor.connection if schema_editor is not None else connections[DEFAULT_DB_ALIAS]


def _execute(connection: Any, *statements: str) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
