"""Which entries belong to a year."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.events import NO_HASH, record_event
from core.models import Event
from desk.selectors import archives
from desk.selectors.archives import Stretch, archives_made, event_lines, stretch_of
from inventory.models import School
from tests.factories import NOW, TODAY, make_school

pytestmark = pytest.mark.django_db


def write(days: int, *, act: str = "tried"):
    record_event(act=act, subject=School.objects.first() or make_school(), actor=None, at=NOW + timedelta(days=days))
    return Event.objects.newest_first()[0]


@pytest.fixture
def year():
    """Two entries before it, three in it, one after it; the clock was set back once, and once in it."""
    return [write(days) for days in (-400, -399, 0, -1, 2, 400)]


def test_a_year_is_a_stretch_without_a_gap(year):
    first, last = TODAY - timedelta(days=10), TODAY + timedelta(days=10)
    stretch = stretch_of(first, last)
    assert stretch == Stretch(year[2].number, 3, year[1].hash, year[4].hash)
    assert stretch.last == year[4].number
    before = stretch_of(first - timedelta(days=500), first - timedelta(days=1))
    assert (before.first, before.count) == (1, year[1].number)
    assert before.previous_hash == NO_HASH
    assert before.hash == stretch.previous_hash


def test_the_lines_are_the_entries_of_the_stretch(year, monkeypatch):
    monkeypatch.setattr(archives, "AT_ONCE", 2)
    stretch = Stretch(year[1].number, 4, year[0].hash, year[4].hash)
    lines = b"".join(event_lines(stretch)).splitlines()
    assert len(lines) == 4
    assert year[4].hash.encode() in lines[-1]


def test_no_entry_is_an_empty_stretch(year):
    empty = stretch_of(TODAY + timedelta(days=500), TODAY + timedelta(days=600))
    assert (empty.count, empty.previous_hash, empty.hash) == (0, year[-1].hash, year[-1].hash)
    assert list(event_lines(empty)) == []


def test_the_newest_archive_comes_first():
    made = [write(days, act="archive_made").number for days in (0, 1)]
    assert [event.number for event in archives_made()] == made[::-1]
