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

from core.triggers import Guard, Refusal

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

LOG_GUARD = Guard(
    about="the event log is",
    function="refuse_for_event_log",
    refusals={
        "event_not_changed": Refusal(EVENTS, "UPDATE", "", CHANGED),
        "event_not_deleted": Refusal(EVENTS, "DELETE", "", DELETED),
        # Without it, SQLite's INSERT OR REPLACE would delete a row, and no trigger would see that. PostgreSQL replaces
        # no row on insert.
        "event_added_last": Refusal(EVENTS, "INSERT", IS_THERE, ADDED, is_on_postgresql=False),
        "head_forward": Refusal(HEAD, "UPDATE", IS_BACK, HEAD_MOVED),
        "head_not_deleted": Refusal(HEAD, "DELETE", "", HEAD_GONE),
        "head_once": Refusal(
            HEAD, "INSERT", "EXISTS (SELECT 1 FROM core_eventhead)", HEAD_TWICE, is_on_postgresql=False
        ),
    },
    emptied={"event_not_emptied": (EVENTS, DELETED), "head_not_emptied": (HEAD, HEAD_GONE)},
)
guard, unguard, unguarded, missing_guards = LOG_GUARD.put_up, LOG_GUARD.take_down, LOG_GUARD.down, LOG_GUARD.missing
