from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from core.models import Event
from inventory.catalog.load import catalog
from inventory.exceptions import InstrumentUnavailableError
from inventory.models import Custody, Instrument, Whereabouts
from inventory.services.state import may_go_out, move_instrument, reasons_today, refresh_state, state_of
from tests.factories import NOW, make_inspection, make_instrument, make_ready_instrument

LATER = NOW + timedelta(days=1)


def fresh(instrument: Instrument) -> Instrument:
    return Instrument.objects.get(pk=instrument.pk)


def test_a_new_instrument_stays_in_until_inspected(school):
    instrument = fresh(make_instrument(school=school))
    assert (instrument.verdict, instrument.readiness) == ("not_inspected", "stays_in")
    assert [reason["clears"] for reason in instrument.readiness_reasons] == ["inspect"]


def test_stored_columns_are_what_the_facts_say(school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("piston", "valve_stuck", "severe", "2", "up")], actor=tech)
    stored = fresh(instrument)
    computed = state_of(stored).columns()
    assert {name: getattr(stored, name) for name in computed} == computed


def test_moving_closes_one_span_and_opens_the_next(school, tech):
    instrument = make_ready_instrument(school=school)
    move_instrument(instrument=instrument, expected="in_store", to="on_bench", actor=tech, at=LATER, reference="job:4")
    assert fresh(instrument).whereabouts == Whereabouts.ON_BENCH
    assert fresh(instrument).readiness == "stays_in"
    spans = list(Custody.objects.filter(instrument=instrument).values_list("whereabouts", "until"))
    assert spans == [("on_bench", None), ("in_store", LATER)]


def test_somebody_who_comes_second_is_refused_and_nothing_changes(school, tech):
    instrument = make_ready_instrument(school=school)
    move_instrument(instrument=instrument, expected="in_store", to="on_bench", actor=tech, at=LATER)
    before = Event.objects.count()
    with pytest.raises(InstrumentUnavailableError, match="Somebody else was faster"):
        move_instrument(instrument=instrument, expected="in_store", to="with_student", actor=tech, at=LATER)
    assert fresh(instrument).whereabouts == Whereabouts.ON_BENCH
    assert Custody.objects.filter(instrument=instrument, until=None).count() == 1
    assert Event.objects.count() == before


def test_a_change_of_verdict_is_told_once(school, tech):
    instrument = make_ready_instrument(school=school)
    before = Event.objects.filter(act="judged").count()
    refresh_state(instrument=instrument, actor=tech, at=LATER)
    assert Event.objects.filter(act="judged").count() == before
    make_inspection(
        instrument=instrument,
        findings=[("piston", "valve_stuck", "severe", "2", "up")],
        actor=tech,
        at=LATER,
        purpose="spot",
    )
    told = Event.objects.filter(act="judged").latest("number")
    assert told.before["verdict"] == "plays"
    assert told.after["verdict"] == fresh(instrument).verdict != "plays"


def test_an_inspection_ages_out_by_the_calendar_alone(school):
    instrument = fresh(make_ready_instrument(school=school))
    days = int(catalog().settings["inspection_valid_days"])
    last_day = timezone.localdate(NOW) + timedelta(days=days)
    assert instrument.ready_until == last_day
    assert may_go_out(instrument, today=last_day)
    assert not may_go_out(instrument, today=last_day + timedelta(days=1))
    assert reasons_today(instrument, today=last_day) == []
    assert [reason["code"] for reason in reasons_today(instrument, today=last_day + timedelta(days=1))] == ["aged"]


def test_the_passed_row_is_not_touched(school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, actor=tech)
    assert instrument.verdict == "not_inspected"
