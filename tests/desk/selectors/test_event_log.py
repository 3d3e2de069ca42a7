"""The log by person, act, day and instrument, and what was entered after the day it happened. No source."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.utils import timezone

from core.events import record_event
from core.models import Event
from desk.selectors import event_log
from desk.selectors.event_log import (
    CORRECTS,
    KEY_OF,
    LogFilter,
    acts_in_log,
    all_entries,
    entries,
    happened_on,
    is_whole_district,
    people_in_log,
)
from desk.services.entered_in_error import call_entered_in_error
from desk.services.merging import merge_records
from inventory.models import Role
from inventory.services.registering import change_instrument
from repairs.services.care import record_care
from tests.factories import NOW, TODAY, make_director, make_ready_instrument, make_school, make_user, new_nonce
from tests.filled import fill_district


def acts(user, **asked):
    return [event.act for event in LogFilter(**asked).rows(user)]


def care(instrument, *, done_on, tech):
    return record_care(instrument=instrument, code="piston_oil", done_on=done_on, actor=tech, at=NOW)


def test_by_person_act_day_and_instrument(school, director, tech, auditor):
    horn, other = (make_ready_instrument(school=school) for _ in range(2))
    change_instrument(instrument=horn, actor=director, at=NOW + timedelta(days=2), serial="77")
    change_instrument(instrument=other, actor=tech, at=NOW + timedelta(days=3), serial="78")
    day = TODAY + timedelta(days=2)
    assert acts(auditor, person=director, act="corrected") == ["corrected"]
    assert acts(auditor, since=day, until=day) == ["corrected"]
    assert acts(auditor, since=day) == ["corrected", "corrected"]
    assert acts(auditor, number=horn.asset_number, show="corrections") == ["corrected"]
    assert acts(auditor, number="none such") == []


def test_a_record_merged_into_an_instrument_is_in_its_log(school, director, auditor):
    kept, away = (make_ready_instrument(school=school) for _ in range(2))
    merge_records(kept=kept, away=away, actor=director, at=NOW)
    threads = {event.thread for event in LogFilter(number=kept.asset_number).rows(auditor)}
    assert threads == {kept.thread, away.thread}


def test_who_works_at_one_school_sees_its_entries_and_people_alone(school, auditor):
    other = make_school()
    stranger = make_director(other)
    here = make_ready_instrument(school=school)
    make_ready_instrument(school=other)
    user = make_user(Role.AUDITOR, school=school)
    assert {event.thread for event in LogFilter().rows(user) if event.thread} == {here.thread}
    assert stranger not in people_in_log(user)
    assert stranger in people_in_log(auditor)
    assert (is_whole_district(user), is_whole_district(auditor)) == (False, True)


@pytest.mark.parametrize("days", [0, 1, 400])
def test_what_was_entered_after_the_day_it_happened_is_found_and_marked(school, tech, auditor, days):
    done_on = TODAY - timedelta(days=days)
    care(make_ready_instrument(school=school), done_on=done_on, tech=tech)
    event = Event.objects.get(act="care_done")
    assert happened_on(event) == (done_on if days else None)
    assert acts(auditor, show="late", act="care_done") == (["care_done"] if days else [])


def test_exports_and_who_took_them(director, auditor):
    record_event(act="exported", subject=director, actor=director, at=NOW, after={"what": "instruments"})
    assert acts(auditor, show="exports") == ["exported"]
    assert acts(auditor, show="exports", person=auditor) == []


def test_pages_hold_every_entry_once_and_cost_the_same(school, auditor, django_assert_max_num_queries, monkeypatch):
    for _ in range(3):
        make_ready_instrument(school=school)
    rows = LogFilter().rows(auditor)
    numbers, before = [], None
    while True:
        with django_assert_max_num_queries(7):
            page = entries(rows, user=auditor, names={}, before=before, most=4)
        numbers += [event.number for event in page.events]
        before = numbers[-1]
        if not page.has_more:
            break
    monkeypatch.setattr(event_log, "AT_ONCE", 3)  # a file takes several turns
    everything = [event.number for some in all_entries(rows, user=auditor, names={}) for event in some.events]
    assert numbers == everything == sorted(Event.objects.values_list("number", flat=True), reverse=True)


def test_between_days_pages_hold_every_entry_once_too(school, auditor):
    for day in (2, 1, 1, 3):  # the second is of a clock set back
        make_ready_instrument(school=school, at=NOW + timedelta(days=day))
    rows = LogFilter(since=TODAY - timedelta(days=99), until=TODAY + timedelta(days=2)).rows(auditor)
    expected = list(Event.objects.filter(at__lt=NOW + timedelta(days=2, hours=1)).order_by("-at", "-number"))
    found, before = [], None
    while True:
        page = entries(rows, user=auditor, names={}, before=before, most=3)
        found += page.events
        before = found[-1].number
        if not page.has_more:
            break
    assert found == expected
    assert entries(rows, user=auditor, names={}, before=10**9, most=3).events == []


def test_an_entry_marked_as_an_error_is_known(school, director, auditor):
    event = Event.objects.filter(thread=make_ready_instrument(school=school).thread).first()
    call_entered_in_error(event=event, because="Wrong horn", nonce=new_nonce(), actor=director, at=NOW)
    page = entries(LogFilter().rows(auditor), user=auditor, names={}, before=None, most=50)
    assert page.struck == {event.number}


@pytest.mark.drill
def test_the_acts_named_here_are_written_and_every_day_of_an_act_is_known(db):
    fill_district()
    written = set(Event.objects.values_list("act", flat=True))
    assert acts_in_log() == sorted(written)
    days = ("on", "done_on", "received_on", "noticed_on", "found_on", "left_on", "back_on")
    late = {
        event.act
        # The day of what is withdrawn; the day of the act itself, which the maker chose.
        for event in Event.objects.exclude(act__in=("care_withdrawn", "chart_confirmed"))
        if any(str(event.after.get(key) or "9") < str(timezone.localdate(event.at)) for key in days)
    }
    assert late <= KEY_OF.keys()
    assert len(set(CORRECTS) & written) > 3
    assert all(isinstance(happened_on(event), date | None) for event in Event.objects.all())
    assert timezone.localdate(NOW) == TODAY
