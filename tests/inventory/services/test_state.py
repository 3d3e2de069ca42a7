from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils.translation import override

from core.models import Event
from inventory.exceptions import InstrumentUnavailableError
from inventory.models import Custody, Instrument, Whereabouts
from inventory.selectors.state import reasons_today, state_of
from inventory.services.care import record_play_test
from inventory.services.state import (
    keep_for_parts,
    move_instrument,
    refresh_state,
    retire,
)
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


def test_stored_reasons_do_not_hang_on_the_language_of_whoever_acted(school, tech):
    with override("es-mx"):
        instrument = make_instrument(school=school)
        make_inspection(instrument=instrument, findings=[("third_valve_slide", "slide_seized", "severe")])
        shown = [reason["text"] for reason in reasons_today(Instrument.objects.get(pk=instrument.pk), today=NOW.date())]
    row = Instrument.objects.get(pk=instrument.pk)
    stored = {name: getattr(row, name) for name in state_of(row).columns()}
    assert stored == state_of(row).columns()
    with override("es-mx"):
        assert stored == state_of(row).columns()
    assert row.readiness_reasons
    assert shown
    assert "case" in {accessory.name for accessory in row.accessories.all()}


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
    with pytest.raises(InstrumentUnavailableError, match="Somebody else changed it first"):
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


def test_the_passed_row_is_not_touched(school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, actor=tech)
    assert instrument.verdict == "not_inspected"


def test_a_parts_instrument_stays_in_until_it_is_put_back(school, tech):
    instrument = make_ready_instrument(school=school)
    keep_for_parts(instrument=instrument, is_parts_instrument=True, actor=tech, at=LATER)
    assert [reason["code"] for reason in fresh(instrument).readiness_reasons] == ["parts_horn"]
    with pytest.raises(InstrumentUnavailableError, match="is already kept for parts"):
        keep_for_parts(instrument=instrument, is_parts_instrument=True, actor=tech, at=LATER)
    keep_for_parts(instrument=instrument, is_parts_instrument=False, actor=tech, at=LATER)
    assert fresh(instrument).readiness == "may_go_out"


def test_a_retired_instrument_stays_in_until_it_is_put_back(school, tech):
    instrument = make_ready_instrument(school=school)
    for _ in range(2):  # a second time changes nothing
        retire(instrument=instrument, is_retired=True, actor=tech, at=LATER)
    assert [reason["code"] for reason in fresh(instrument).readiness_reasons] == ["retired"]
    retire(instrument=instrument, is_retired=False, actor=tech, at=LATER)
    assert fresh(instrument).readiness == "may_go_out"
    assert list(Event.objects.filter(act__contains="retired").values_list("act", flat=True).order_by("number")) == [
        "retired",
        "no_longer_retired",
    ]


def test_back_from_a_shop_it_stays_in_until_somebody_has_played_it(school, tech):
    instrument = make_ready_instrument(school=school)
    record_play_test(instrument=instrument, result="pass", actor=tech, at=NOW)
    for days, old, new in ((1, "in_store", "at_shop"), (9, "at_shop", "in_store")):
        move_instrument(instrument=instrument, expected=old, to=new, actor=tech, at=NOW + timedelta(days=days))
    assert [reason["clears"] for reason in fresh(instrument).readiness_reasons] == ["play_test"]
    record_play_test(instrument=instrument, result="pass", actor=tech, at=NOW + timedelta(days=10))
    assert fresh(instrument).readiness == "may_go_out"
