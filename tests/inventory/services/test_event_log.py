from __future__ import annotations

import pytest

from core.models import Event
from inventory.services.event_log import log_event
from tests.factories import NOW, make_instrument

pytestmark = pytest.mark.django_db


def test_an_act_stands_in_the_thread_of_the_instrument_and_the_log_of_its_school(school, director):
    instrument = make_instrument(school=school)
    log_event(instrument=instrument, act="polished", actor=director, at=NOW, before={"shine": 1}, after={"shine": 2})
    event = Event.objects.newest_first()[0]
    assert event == Event.objects.newest_first().first()
    assert (event.thread, event.tenant) == (instrument.thread, school.pk)
    assert (event.subject_type, event.subject_id) == ("inventory.instrument", str(instrument.pk))
    assert (event.before, event.after, event.actor) == ({"shine": 1}, {"shine": 2}, director)


def test_a_row_that_belongs_to_it_is_what_the_act_is_about(school):
    instrument = make_instrument(school=school)
    tag = instrument.tags.get()
    log_event(instrument=instrument, act="tag_looked_at", subject=tag, actor=None, at=NOW)
    event = Event.objects.newest_first()[0]
    assert (event.subject_type, event.subject_id, event.thread) == ("inventory.tag", str(tag.pk), instrument.thread)
