"""What the database refuses of the event log, whoever asks: nothing here goes through the application's own checks."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, connection, transaction

from core.events import record_event
from core.log_guard import EVENTS, HEAD, guard, missing_guards, unguard, unguarded
from core.models import Event, EventHead
from tests.factories import NOW, make_school
from tests.migrating import migrate_to, newest_afterward
from tests.plugins.ground import on_postgresql


def make_two() -> None:
    school = make_school()
    for _ in range(2):
        record_event(actor=None, act="tried", subject=school, at=NOW)


def run(statement: str) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)


REFUSED = [
    "UPDATE core_event SET act = 'forged' WHERE number = 2",
    "UPDATE core_event SET act = act",
    "DELETE FROM core_event WHERE number = 2",
    "DELETE FROM core_event",
    "DELETE FROM core_eventhead",
    "UPDATE core_eventhead SET last_number = 1",
    "UPDATE core_eventhead SET last_hash = 'x'",
    "UPDATE core_eventhead SET id = 2",
]
ON_SQLITE = [
    "REPLACE INTO core_event SELECT * FROM core_event WHERE number = 2",
    (
        "REPLACE INTO core_event SELECT id + 9, number, at, 'forged', subject_type, subject_id, thread, tenant, before, after,"
        " request_id, previous_hash, 'x', actor_id FROM core_event WHERE number = 2"
    ),
    "INSERT INTO core_eventhead (id, last_number, last_hash) VALUES (2, 2, 'x')",
]
# What waits for the end of the transaction would be refused before the trigger is asked.
ON_POSTGRESQL = [f"SET CONSTRAINTS ALL IMMEDIATE; TRUNCATE {table} CASCADE" for table in (EVENTS, HEAD)]


@pytest.mark.django_db
@pytest.mark.parametrize("statement", [*REFUSED, *(ON_POSTGRESQL if on_postgresql() else ON_SQLITE)])
def test_the_database_refuses_to_change_the_log(statement):
    make_two()
    rows = (list(Event.objects.values_list()), list(EventHead.objects.values_list()))
    with pytest.raises(IntegrityError, match="event"):
        run(statement)
    assert (list(Event.objects.values_list()), list(EventHead.objects.values_list())) == rows


@pytest.mark.django_db
def test_the_log_grows_as_before_and_a_migration_can_touch_it():
    make_two()
    with unguarded():
        run("UPDATE core_event SET request_id = 'mended'")
    assert set(Event.objects.values_list("request_id", flat=True)) == {"mended"}
    make_two()
    assert Event.objects.count() == 4
    assert list(missing_guards()) == []
    with pytest.raises(IntegrityError):
        run("UPDATE core_event SET request_id = 'again'")


@pytest.mark.django_db
def test_a_guard_that_is_down_or_was_changed_is_told():
    assert list(missing_guards()) == []
    unguard()
    assert len(list(missing_guards())) == 6
    guard()
    run(f"DROP TRIGGER event_not_changed{f' ON {EVENTS}' if on_postgresql() else ''}")
    told = "the event log is not guarded: the database's trigger event_not_changed is missing, changed or switched off"
    assert list(missing_guards()) == [told]


@pytest.mark.django_db
@pytest.mark.sqlite
def test_a_trigger_that_says_something_else_is_told():
    run("DROP TRIGGER head_not_deleted")
    run(f"CREATE TRIGGER head_not_deleted BEFORE DELETE ON {HEAD} WHEN 0 BEGIN SELECT RAISE(ABORT, 'no'); END")
    assert len(list(missing_guards())) == 1


@pytest.mark.django_db
@pytest.mark.postgresql
@pytest.mark.parametrize(
    "statement",
    [
        f"ALTER TABLE {EVENTS} DISABLE TRIGGER event_not_changed",
        f"ALTER TABLE {EVENTS} ENABLE TRIGGER event_not_changed",
        "CREATE OR REPLACE FUNCTION refuse_for_event_log() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'",
        (
            f"DROP TRIGGER event_not_deleted ON {EVENTS}; CREATE TRIGGER event_not_deleted BEFORE DELETE ON {EVENTS}"
            " FOR EACH ROW WHEN (false) EXECUTE FUNCTION refuse_for_event_log('no')"
        ),
    ],
)
def test_a_trigger_that_does_not_act_is_told(statement):
    run(statement)
    assert list(missing_guards())


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_its_migration_puts_the_guard_up_and_takes_it_down(request):
    newest = newest_afterward(request)
    migrate_to(("core", "0003_who_gets_in"))
    assert list(missing_guards())
    migrate_to(*newest)
    assert list(missing_guards()) == []
