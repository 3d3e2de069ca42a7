"""Care is noted once, for what can have had it, and can be taken back."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.models import Event
from inventory.models import Instrument, Whereabouts
from repairs.exceptions import CareRefusedError
from repairs.models import CareDone, CareNext
from repairs.selectors.care import care_differences
from repairs.services.care import record_care, record_care_of_many, refresh_all_care, withdraw_care
from tests.factories import NOW, TODAY, make_ready_instrument, make_school, new_nonce
from tests.repairs.care_makers import make_care


def test_care_is_kept_with_its_day_and_told_in_the_history(school, tech):
    instrument = make_ready_instrument(school=school)
    row = make_care(instrument=instrument, done_on=TODAY - timedelta(days=3), actor=tech)
    assert (row.code, row.done_on, row.name) == ("piston_oil", TODAY - timedelta(days=3), "Oil the pistons")
    event = Event.objects.get(act="care_done")
    assert (event.thread, event.tenant, event.after["care"]) == (instrument.thread, school.pk, "piston_oil")


def test_the_same_care_on_the_same_day_is_the_same_row(school):
    instrument = make_ready_instrument(school=school)
    assert make_care(instrument=instrument).pk == make_care(instrument=instrument).pk
    assert CareDone.objects.count() == 1
    assert Event.objects.filter(act="care_done").count() == 1


def refused(instrument: Instrument, words: str, **overrides) -> None:
    events = Event.objects.count()
    with pytest.raises(CareRefusedError, match=words):
        make_care(instrument=instrument, **overrides)
    assert (CareDone.objects.count(), Event.objects.count()) == (0, events)


def test_care_that_the_kind_does_not_ask_for_is_refused(school):
    refused(make_ready_instrument(school=school), "does not need that", code="pads")
    refused(make_ready_instrument(school=school), "does not need that", code="no_such_care")


def test_a_day_to_come_is_refused(school):
    refused(make_ready_instrument(school=school), "in the future", done_on=TODAY + timedelta(days=1))


def test_a_day_long_past_is_refused(school):
    refused(make_ready_instrument(school=school), "Check the year", done_on=TODAY - timedelta(days=1099))


@pytest.mark.parametrize("whereabouts", [Whereabouts.GONE, Whereabouts.NOT_FOUND])
def test_what_is_not_there_cannot_have_had_care(school, whereabouts):
    instrument = make_ready_instrument(school=school)
    Instrument.objects.filter(pk=instrument.pk).update(whereabouts=whereabouts)
    refused(instrument, "nobody can have done that")


def test_several_instruments_are_noted_all_or_none(school, tech):
    instruments = [make_ready_instrument(school=school), make_ready_instrument(school=school)]
    flute = make_ready_instrument(school=school, kind_code="flute")
    with pytest.raises(CareRefusedError):
        record_care_of_many(instruments=[*instruments, flute], code="bath", done_on=TODAY, actor=tech, at=NOW)
    assert CareDone.objects.count() == 0
    assert len(record_care_of_many(instruments=instruments, code="bath", done_on=TODAY, actor=tech, at=NOW)) == 2


def test_nothing_ticked_is_refused(tech):
    with pytest.raises(CareRefusedError, match="Choose the instruments"):
        record_care_of_many(instruments=[], code="bath", done_on=TODAY, actor=tech, at=NOW)


def test_what_was_noted_by_mistake_is_taken_back_once_and_may_be_noted_again(school, tech):
    instrument = make_ready_instrument(school=school)
    row = make_care(instrument=instrument)
    for _ in range(2):
        withdraw_care(care=row, actor=tech, at=NOW)
    assert Event.objects.filter(act="care_withdrawn").count() == 1
    assert CareDone.objects.standing().count() == 0
    again = record_care(instrument=instrument, code=row.code, done_on=row.done_on, actor=tech, at=NOW)
    assert again.pk != row.pk


def test_days_of_care_are_refreshed_with_one_event_at_each_school_they_changed_at(school):
    instrument, _ = make_ready_instrument(school=school), make_ready_instrument(school=make_school())
    CareNext.objects.filter(instrument=instrument).update(idle_on=TODAY)
    CareNext.objects.create(instrument=instrument, code="no_such_care")
    assert refresh_all_care(because="Oil more often.", actor=None, at=NOW) == 1
    assert list(care_differences()) == []
    event = Event.objects.get(act="refreshed")
    assert (event.tenant, event.after) == (school.pk, {"because": "Oil more often.", "instruments": 1})
    assert refresh_all_care(because="Again.", actor=None, at=NOW) == 0
    assert Event.objects.filter(act="refreshed").count() == 1


def test_a_form_posted_again_after_its_care_was_undone_records_nothing(school, tech):
    instrument, nonce = make_ready_instrument(school=school), new_nonce()
    said = {"instruments": [instrument], "code": "piston_oil", "done_on": TODAY, "actor": tech, "nonce": nonce}
    (row,) = record_care_of_many(**said, at=NOW)
    assert record_care_of_many(**said, at=NOW) == [row]
    withdraw_care(care=row, actor=tech, at=NOW)
    with pytest.raises(CareRefusedError, match="undone since"):
        record_care_of_many(**said, at=NOW)
    assert CareDone.objects.count() == 1
