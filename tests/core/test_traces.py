"""Rows against events, with loans as the example: what is registered for all models is tried in tests/desk."""

from datetime import timedelta

import pytest

from core import traces
from core.events import record_event
from core.models import Event
from core.traces import NOW as NOW_KEY
from core.traces import OPENING, Trace, after, log_differences, moment
from inventory.models import ChartConfirmation, Room
from loans.models import Loan
from tests.factories import NOW, make_school, make_user
from tests.loans.makers import make_loan
from tests.opening import open_all
from tests.tampering import tamper

pytestmark = pytest.mark.django_db


@pytest.fixture
def only(monkeypatch):
    """Have nothing registered but what the test says."""

    def register(*those: Trace) -> None:
        monkeypatch.setattr(traces, "_TRACES", {trace.model: trace for trace in those})

    return register


def found() -> list[str]:
    return list(log_differences())


def test_what_services_write_agrees_with_what_events_say():
    make_loan()
    open_all()
    assert found() == []


def test_a_row_that_no_event_began_is_found_unless_it_has_an_opening_event(only):
    only(Trace(Room, begins={"room_added"}))
    room = Room.objects.create(school=make_school(), name="Band room")
    assert found() == [f"room {room.pk} is there, but no event says how it came about"]
    record_event(actor=None, act=OPENING, subject=room, at=NOW)
    assert found() == []


def test_an_event_whose_row_was_deleted_is_found_unless_an_event_ended_it(only):
    only(Trace(ChartConfirmation, begins={"chart_confirmed"}, ends={"chart_withdrawn"}))
    row = ChartConfirmation.objects.create(chart="x", digest="y", confirmed_on=NOW.date(), confirmed_by=make_user())
    record_event(actor=None, act="chart_confirmed", subject=row, at=NOW)
    assert found() == []
    gone = ChartConfirmation(pk=row.pk)
    row.delete()
    number = Event.objects.newest_first()[0].number
    assert found() == [f"event {number} is about chart confirmation {gone.pk}, which is not there"]
    record_event(actor=None, act="chart_withdrawn", subject=gone, at=NOW)
    assert found() == []


def test_a_row_that_an_event_ended_is_found_if_it_is_still_there(only):
    only(Trace(Room, begins={"room_added"}, ends={"room_closed"}))
    room = Room.objects.create(school=make_school(), name="Band room")
    for act in ("room_added", "room_closed"):
        record_event(actor=None, act=act, subject=room, at=NOW)
    number = Event.objects.newest_first()[0].number
    assert found() == [f"room {room.pk} is there, but event {number} says that it is gone"]


@pytest.mark.parametrize(
    ("column", "value", "told"),
    [
        ("due_on", "2026-06-01", "due on is 2026-06-01"),
        ("returned_at", "2026-12-01 10:00:00+00:00", "returned at is 2026-12-01"),
        ("lent_at", NOW - timedelta(days=1), "lent at is"),
    ],
)
def test_a_column_changed_past_the_services_is_found_with_the_event_that_says_otherwise(column, value, told):
    loan = make_loan()
    if column == "due_on":
        value = told = str(loan.due_on + timedelta(days=1))
    tamper(f"UPDATE loans_loan SET {column} = %s WHERE id = %s", value, loan.pk)  # noqa: S608  # the columns above
    number = Event.objects.get(act="lent").number
    lines = [line for line in found() if line.startswith(f"loan {loan.pk}: ")]
    assert len(lines) == 1
    assert told in lines[0]
    assert f"event {number} says" in lines[0]


def test_the_latest_event_counts_and_columns_it_does_not_name_stay_as_said_before(only):
    only(Trace(Room, begins={"room_added"}, says={"renamed": {"name": after("name")}}, columns=("school_id", "name")))
    room = Room.objects.create(school=make_school(), name="Choir room")
    record_event(
        actor=None, act="room_added", subject=room, at=NOW, after={NOW_KEY: {"name": "x", "school_id": room.school_id}}
    )
    assert len(found()) == 1
    record_event(actor=None, act="renamed", subject=room, at=NOW, after={"name": "Choir room"})
    record_event(actor=None, act="renamed", subject=room, at=NOW)
    assert found() == []
    tamper("UPDATE inventory_room SET school_id = %s WHERE id = %s", make_school().pk, room.pk)
    assert len(found()) == 1


def test_figures_of_a_column_and_moments_are_compared_too(only):
    only(
        Trace(
            Loan, begins={"lent"}, says={"lent": {"lent_at": moment}}, columns=("codes",),
            derived={"codes": ("accessories", lambda rows: sorted(row["code"] for row in rows))},
        )
    )  # fmt: skip
    loan = make_loan()
    codes = sorted(row["code"] for row in loan.accessories)
    record_event(actor=None, act="counted", subject=loan, at=NOW, after={NOW_KEY: {"codes": codes}})
    assert found() == []
    tamper("UPDATE loans_loan SET accessories = '[]' WHERE id = %s", loan.pk)
    assert len(found()) == 1
    assert f"loan {loan.pk}: codes is []" in found()[0]


def test_events_about_something_that_no_program_knows_are_found():
    make_loan()
    tamper("UPDATE core_event SET subject_type = 'loans.nothing' WHERE act = 'lent'")
    assert "events speak of loans.nothing, and there is nothing of that kind" in found()


def test_queries_do_not_grow_with_rows(django_assert_max_num_queries):
    for _ in range(3):
        make_loan()
    open_all()
    each = 8 * sum(1 + len(trace.named) for trace in traces.registered())
    with django_assert_max_num_queries(each):
        assert found() == []
