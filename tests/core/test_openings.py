from datetime import timedelta

import pytest

from core.events import broken_links, record_event
from core.models import Event, EventHead
from core.openings import Opening, open_rows
from core.traces import NOW as NOW_KEY
from core.traces import OPENING
from inventory.models import Room
from tests.factories import NOW, make_room, make_school

pytestmark = pytest.mark.django_db


def opened(*openings: Opening) -> int:
    return open_rows(openings, at=NOW, event=Event, head=EventHead)


def test_each_row_that_no_event_began_gets_one_and_only_one_in_the_chain():
    school = make_school()
    rooms = [make_room(school=school) for _ in range(3)]
    record_event(actor=None, act="room_added", subject=rooms[0], at=NOW - timedelta(days=1))
    opening = Opening(Room, begins=("room_added",), columns=("name", "school_id"))
    assert opened(opening) == 2
    assert opened(opening) == 0
    rows = Event.objects.filter(act=OPENING).order_by("number")
    assert [row.subject_id for row in rows] == [str(rooms[1].pk), str(rooms[2].pk)]
    assert rows[0].after == {NOW_KEY: {"name": rooms[1].name, "school_id": school.pk}}
    assert (rows[0].actor, rows[0].thread, rows[0].tenant, rows[0].at) == (None, "", None, NOW)
    assert list(broken_links()) == []


def test_without_acts_every_row_is_opened_and_the_chain_begins_where_there_was_none():
    make_room()
    assert opened(Opening(Room)) == 1
    assert Event.objects.get().after == {}
    record_event(actor=None, act="tried", subject=make_room(), at=NOW)
    assert list(broken_links()) == []
