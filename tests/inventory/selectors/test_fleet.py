"""The kept counts of instruments against counting them one by one."""

from __future__ import annotations

from datetime import timedelta

from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import Instrument, Readiness, School, Tag, Verdict, Whereabouts
from inventory.selectors.fleet import (
    State,
    count_of,
    fleets_of,
    goes_with_limits,
    is_held,
    is_not_inspected,
    is_with_student,
    may_go_out,
    states_of,
)
from tests.factories import TODAY, make_instrument, make_ready_instrument, make_school


def fleets(*, today=TODAY):
    return fleets_of(School.objects.all(), today=today)


def test_states_are_counted_by_school_and_kind_as_they_stand_today(school):
    other = make_school()
    ready = make_ready_instrument(school=school)
    make_instrument(school=school, kind_code="flute")
    make_instrument(school=other, kind_code="flute")
    assert states_of(fleets().values(), kind="flute").total() == 2
    assert count_of(fleets()[school.pk].states, may_go_out) == 1
    aged = states_of(fleets(today=ready.ready_until + timedelta(days=1)).values())
    assert (count_of(aged, may_go_out), aged.total()) == (0, 3)


def test_each_question_asks_for_its_own_states():
    state = State(Whereabouts.IN_STORE, Verdict.PLAYS, Readiness.MAY_GO_OUT)
    gone = state._replace(whereabouts=Whereabouts.GONE)
    assert (is_held(state), may_go_out(state), is_held(gone), may_go_out(gone)) == (True, True, False, False)
    assert goes_with_limits(state._replace(readiness=Readiness.WITH_LIMITS))
    assert is_not_inspected(state._replace(verdict=Verdict.NOT_INSPECTED))
    assert is_with_student(state._replace(whereabouts=Whereabouts.WITH_STUDENT))
    assert not any(fits(state) for fits in (goes_with_limits, is_not_inspected, is_with_student))


def test_what_lacks_a_tag_or_a_serial_is_counted_while_it_is_held(school):
    make_instrument(school=school)
    bare = make_instrument(school=school, serial="")
    Tag.objects.filter(instrument=bare).update(revoked_at=bare.registered_at)
    gone = make_instrument(school=school, serial="")
    Instrument.objects.filter(pk=gone.pk).update(whereabouts=Whereabouts.GONE)
    fleet = fleets()[school.pk]
    assert (fleet.untagged, fleet.unserialed) == (1, 1)


def test_counting_takes_three_queries_however_many_schools_and_one_when_nothing_happened(school):
    for place in (school, make_school(), make_school()):
        make_instrument(school=place)
    for queries in (3, 1):
        with CaptureQueriesContext(connection) as caught:
            fleets()
        assert len(caught) == queries
