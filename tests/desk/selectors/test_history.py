"""What is read of the event log."""

from __future__ import annotations

from datetime import timedelta

from core.models import Event
from desk.selectors.history import latest_events, numbers_by_thread
from inventory.services.care import record_play_test
from tests.factories import NOW, make_instrument


def test_only_so_many_events(school, tech):
    row = make_instrument(school=school)
    for hours in range(6):
        record_play_test(instrument=row, result="pass", actor=tech, at=NOW + timedelta(hours=hours))
    assert len(latest_events(row, limit=4)) == 4


def test_what_was_recorded_late_comes_at_the_time_it_happened(school, tech):
    row = make_instrument(school=school)
    for result, at in (("pass", NOW + timedelta(days=3)), ("fail", NOW + timedelta(days=1))):
        record_play_test(
            instrument=row,
            result=result,
            failed_notes=["G4"] if result == "fail" else [],
            actor=tech,
            at=at,
        )
    results = [event.after["result"] for event in latest_events(row) if event.act == "play_tested"]
    assert results == ["pass", "fail"]


def test_numbers_are_of_instruments_alone(school):
    row = make_instrument(school=school)
    events = [Event(thread=row.thread), Event(thread="student:1"), Event(thread="instrument:0")]
    assert numbers_by_thread(events) == {row.thread: row.asset_number}
