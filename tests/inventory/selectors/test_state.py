"""Verdict and readiness by the facts, for one and for many."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone
from django.utils.translation import override

from inventory.catalog.load import catalog
from inventory.models import Accessory, Instrument
from inventory.selectors.state import keeps_in, may_go_out, reasons_today, state_of, state_words_of, states_of
from inventory.services.care import record_play_test, report_problem
from inventory.services.inspecting import count_accessories
from inventory.services.state import move_instrument
from tests.factories import NOW, make_inspection, make_instrument, make_ready_instrument


def fresh(instrument: Instrument) -> Instrument:
    return Instrument.objects.get(pk=instrument.pk)


def test_an_inspection_ages_out_by_the_calendar_alone(school):
    instrument = fresh(make_ready_instrument(school=school))
    days = int(catalog().settings["inspection_valid_days"])
    last_day = timezone.localdate(NOW) + timedelta(days=days)
    assert instrument.ready_until == last_day
    assert may_go_out(instrument, today=last_day)
    assert not may_go_out(instrument, today=last_day + timedelta(days=1))
    assert reasons_today(instrument, today=last_day) == []
    assert [reason["code"] for reason in reasons_today(instrument, today=last_day + timedelta(days=1))] == ["aged"]


def test_many_cost_what_one_costs_and_say_the_same(school, tech, django_assert_num_queries):
    instruments = [make_instrument(school=school), *(make_ready_instrument(school=school) for _ in range(6))]
    make_inspection(instrument=instruments[1], findings=[("piston", "valve_stuck", "severe", "2", "up")], actor=tech)
    record_play_test(instrument=instruments[2], result="fail", failed_notes=["D4"], actor=tech, at=NOW)
    record_play_test(instrument=instruments[3], result="limits", limits_text="Weak below.", actor=tech, at=NOW)
    report_problem(instrument=instruments[4], text="A valve sticks.", actor=tech, at=NOW)
    Accessory.objects.filter(instrument=instruments[5]).update(present=0)
    for days, old, new in ((1, "in_store", "at_shop"), (9, "at_shop", "in_store")):
        move_instrument(instrument=instruments[6], expected=old, to=new, actor=tech, at=NOW + timedelta(days=days))
    rows = [fresh(instrument) for instrument in instruments]
    with django_assert_num_queries(4):
        many = states_of(rows)
    assert {pk: state.columns() for pk, state in many.items()} == {
        instrument.pk: state_of(fresh(instrument)).columns() for instrument in instruments
    }
    words = [[reason.code for reason in many[instrument.pk].answer.reasons] for instrument in instruments]
    assert words[0] == ["not_inspected"]
    assert "does_not_play" in words[1] or "limits" in words[1]
    assert words[2] == ["play_test"]
    assert words[3] == ["limits"]
    assert words[4] == ["reports"]
    assert words[5][0] == "accessories"
    assert words[6] == ["back_from_shop"]


def test_a_kind_that_left_the_catalog_keeps_it_in(school):
    instrument = make_ready_instrument(school=school)
    Instrument.objects.filter(pk=instrument.pk).update(kind_code="horn_alto")
    state = state_of(fresh(instrument))
    assert state.answer.readiness == "stays_in"
    assert [reason.code for reason in state.answer.reasons] == ["unknown_kind"]


def test_what_the_findings_say_is_not_said_again_by_the_play_test(school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("third_valve_slide", "slide_seized", "severe")])
    before = state_of(fresh(instrument)).limits
    kept = f"{' '.join(before)} Thin on top."
    record_play_test(instrument=instrument, result="limits", limits_text=kept, actor=tech, at=NOW)
    assert before
    assert state_of(fresh(instrument)).limits == (*before, "Thin on top.")


SPANISH = "es-mx"


def test_a_reader_of_spanish_reads_the_stored_reasons_and_limits_in_spanish(school, tech, django_assert_num_queries):
    """Outside check: the catalog's and the program's own translations; nothing stored is in another language for it."""
    gone = make_ready_instrument(school=school)
    count_accessories(instrument=gone, counts={"case": 0}, actor=tech, at=NOW)
    gone = fresh(gone)
    slow = make_instrument(school=school)
    make_inspection(instrument=slow, findings=[("third_valve_slide", "slide_seized", "severe")])
    with override(SPANISH), django_assert_num_queries(4):
        words = state_words_of([gone, fresh(slow)])
    assert [one["text"] for one in words[gone.pk].reasons] == ["Falta: estuche."]
    assert "notas de primer año" in " ".join(words[slow.pk].limits)
    assert "(grave)" in " ".join(words[slow.pk].limits)
    assert [one["text"] for one in fresh(gone).readiness_reasons] == ["Missing: case."]


def test_a_reader_of_what_is_stored_reads_it_without_a_query(school, django_assert_num_queries):
    row = fresh(make_ready_instrument(school=school))
    with django_assert_num_queries(0):
        assert state_words_of([row])[row.pk] == (row.readiness_reasons, row.limits)


def test_where_the_facts_give_other_reasons_the_stored_ones_are_read(school):
    row = make_ready_instrument(school=school)
    kept = [{"code": "retired", "text": "It is retired.", "clears": "decide", "stays_in": True}]
    Instrument.objects.filter(pk=row.pk).update(readiness_reasons=kept)
    with override(SPANISH):
        assert [one["code"] for one in state_words_of([fresh(row)])[row.pk].reasons] == ["retired"]


def test_what_a_tester_kept_in_spanish_is_not_said_again(school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("third_valve_slide", "slide_seized", "severe")])
    before = state_of(fresh(instrument)).limits
    with override(SPANISH):
        kept = f"{' '.join(state_words_of([fresh(instrument)])[instrument.pk].limits)} Débil arriba."
        record_play_test(instrument=instrument, result="limits", limits_text=kept, actor=tech, at=NOW)
        assert len(state_words_of([fresh(instrument)])[instrument.pk].limits) == len(before) + 1
    assert fresh(instrument).limits == [*before, "Débil arriba."]


def test_what_keeps_it_in_is_known_by_code(school):
    ready, new = fresh(make_ready_instrument(school=school)), fresh(make_instrument(school=school))
    assert ready.ready_until is not None
    assert keeps_in(ready, today=ready.ready_until) == set()
    assert keeps_in(ready, today=ready.ready_until + timedelta(days=1)) == {"aged"}
    assert keeps_in(new, today=timezone.localdate(NOW)) == {"not_inspected"}
