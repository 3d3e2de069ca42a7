"""Instruments as they stood on a day, by their records of now and by what was known."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from core.models import Event
from core.traces import OPENING
from inventory.models import Finding, Instrument, Whereabouts
from inventory.models.inspections import Closed
from inventory.selectors.past import AsOf, ever_at, findings_on, histories, inspected_on
from inventory.services.inspecting import close_findings, reopen_findings
from inventory.services.merging import merge_instruments, unmerge_instrument
from inventory.services.registering import change_instrument
from inventory.services.state import move_instrument
from tests.factories import NOW, TODAY, make_inspection, make_instrument, make_school

pytestmark = pytest.mark.django_db

REGISTERED = TODAY - timedelta(days=30)  # as make_instrument does
SEIZED = ("third_valve_slide", "slide_seized", "severe")


def at(days: int):
    return NOW + timedelta(days=days)


def on(days: int) -> date:
    return TODAY + timedelta(days=days)


def all_of(as_of: AsOf, *, schools=None):
    rows = None if schools is None else ever_at(schools)
    return [one for some in histories(as_of, rows=rows) for one in some]


def one_of(as_of: AsOf):
    (history,) = all_of(as_of)
    return history


def held(day: date, known_on: date | None = None) -> set[str]:
    return {one.asset_number for one in all_of(AsOf(day, known_on)) if one.is_held(day)}


def move(instrument, expected, to, days):
    move_instrument(instrument=instrument, expected=expected, to=to, actor=None, at=at(days))


def test_one_is_held_from_the_day_it_was_acquired_else_from_the_day_it_was_registered():
    make_instrument(asset_number="BOUGHT", acquired_on=date(2019, 8, 1))
    make_instrument(asset_number="FOUND")
    assert held(date(2019, 7, 31)) == set()
    assert held(date(2019, 8, 1)) == {"BOUGHT"}
    assert held(REGISTERED - timedelta(days=1)) == {"BOUGHT"}
    assert held(REGISTERED) == {"BOUGHT", "FOUND"}


def test_what_is_gone_is_held_until_the_day_it_went_and_from_the_day_it_came_back():
    instrument = make_instrument()
    number = {instrument.asset_number}
    move(instrument, Whereabouts.IN_STORE, Whereabouts.GONE, 10)
    assert [held(on(day)) for day in (9, 10, 400)] == [number, set(), set()]
    move(instrument, Whereabouts.GONE, Whereabouts.IN_STORE, 20)
    assert [held(on(day)) for day in (9, 10, 19, 20)] == [number, set(), set(), number]
    assert held(on(30), known_on=on(15)) == set()
    assert held(on(30), known_on=on(5)) == number


def test_a_merged_record_is_none_of_its_own_unless_nobody_knew(director, school):
    kept, away = (
        make_instrument(school=school, serial="1"),
        make_instrument(school=school, serial="2"),
    )
    merge_instruments(kept=kept, away=away, actor=director, at=at(10))
    assert held(on(5)) == held(on(50)) == {kept.asset_number}
    assert held(on(5), known_on=on(9)) == {kept.asset_number, away.asset_number}
    assert held(on(5), known_on=on(10)) == {kept.asset_number}
    unmerge_instrument(away=away, actor=director, at=at(20))
    assert held(on(15)) == {kept.asset_number, away.asset_number}, "it was here all the time"


def test_columns_are_those_of_now_or_those_that_were_known(director, school):
    instrument = make_instrument(school=school, acquisition_cost_amount=Decimal("100.00"), level="student")
    corrected = {"acquisition_cost_amount": Decimal("900.50"), "acquired_on": date(2020, 1, 2), "level": "intermediate"}
    change_instrument(instrument=instrument, actor=director, at=at(3), **corrected)
    now, then = one_of(AsOf(on(0))), one_of(AsOf(on(0), known_on=on(2)))
    assert (now.cost, now.acquired_on, now.level) == (Decimal("900.50"), date(2020, 1, 2), "intermediate")
    assert (then.cost, then.acquired_on, then.level) == (Decimal("100.00"), None, "student")
    assert then.begun_on == REGISTERED
    assert one_of(AsOf(on(0), known_on=on(3))) == now


def test_nothing_is_known_before_it_was_registered():
    make_instrument(acquired_on=date(2019, 8, 1))
    assert all_of(AsOf(date(2020, 1, 1), known_on=REGISTERED - timedelta(days=1))) == []
    assert len(all_of(AsOf(date(2020, 1, 1), known_on=REGISTERED))) == 1


def test_a_price_is_of_the_day_it_was_given(director, school):
    instrument = make_instrument(school=school, replacement_amount=Decimal(700))
    assert one_of(AsOf(on(0))).priced_on == REGISTERED
    change_instrument(instrument=instrument, actor=director, at=at(3), notes="Seen by the dealer.")
    change_instrument(instrument=instrument, actor=director, at=at(5), replacement_amount=Decimal(800))
    assert one_of(AsOf(on(0))).priced_on == on(5)
    known = one_of(AsOf(on(0), known_on=on(4)))
    assert (known.replacement, known.priced_on) == (Decimal("700.00"), REGISTERED)


def test_an_instrument_is_where_it_was(director, school):
    here, there = school, make_school()
    instrument = make_instrument(school=here)
    change_instrument(instrument=instrument, actor=director, at=at(10), school=there, room=None)
    history = one_of(AsOf(on(0)))
    assert [history.school_on(on(day)) for day in (-4000, 9, 10)] == [here.pk, here.pk, there.pk]
    assert one_of(AsOf(on(20), known_on=on(9))).school_on(on(20)) == here.pk
    assert all_of(AsOf(on(0)), schools=[here.pk]) == all_of(AsOf(on(0)), schools=[there.pk]) == [history]


def test_a_school_where_nothing_ever_was_has_nothing(director, school):
    make_instrument(school=school)
    assert all_of(AsOf(on(0)), schools=[make_school().pk]) == []


def test_rows_from_before_the_log_held_columns_are_told_by_their_opening():
    """An early log said only that it was registered; a migration wrote the rest later."""
    instrument = make_instrument(acquisition_cost_amount=Decimal(900))
    event = Event.objects.get(subject_id=str(instrument.pk), act="registered")
    said = {"number": 10_000, "hash": "x", "at": at(10), "act": OPENING, "thread": instrument.thread}
    Event.objects.create(
        **said, subject_type=event.subject_type, subject_id=event.subject_id, after=event.after, previous_hash="y"
    )
    known = AsOf(on(5), known_on=on(5))
    assert one_of(known).cost == Decimal("900.00")
    assert one_of(AsOf(on(20))).priced_on == REGISTERED


def test_many_come_some_at_a_time(monkeypatch, school):
    monkeypatch.setattr("inventory.selectors.past.AT_ONCE", 2)
    for number in range(5):
        make_instrument(school=school, asset_number=f"M-{number}")
    assert [len(some) for some in histories(AsOf(on(0)))] == [2, 2, 1]


# Findings


def stood(instrument, day: date, known_on: date | None = None) -> bool:
    return bool(findings_on(AsOf(day, known_on), keys=[instrument.pk]).get(instrument.pk))


def test_a_fault_stands_from_its_inspection_until_it_is_repaired(director, school):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[SEIZED], at=at(1))
    finding = Finding.objects.get()
    act = {"instrument": instrument, "actor": director}
    close_findings(**act, finding_ids=[finding.pk], because=Closed.REPAIRED, reference="order:1", at=at(5))
    assert [stood(instrument, on(day)) for day in (0, 1, 4, 5)] == [False, True, True, False]
    assert stood(instrument, on(7), known_on=on(4)), "nobody knew of the repair"
    assert not stood(instrument, on(7), known_on=on(5))
    reopen_findings(**act, reference="order:1", at=at(8))
    assert stood(instrument, on(6)), "the repair never was"
    assert not stood(instrument, on(6), known_on=on(7)), "but so it was known"
    assert stood(instrument, on(4), known_on=on(7))
    assert stood(instrument, on(6), known_on=on(8))


def test_what_was_entered_by_mistake_never_stood_once_that_is_known(director, school):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[SEIZED], at=at(1))
    close_findings(
        instrument=instrument, finding_ids=[Finding.objects.get().pk], because=Closed.WITHDRAWN, reference="",
        actor=director, at=at(5),
    )  # fmt: skip
    assert not stood(instrument, on(3))
    assert stood(instrument, on(3), known_on=on(4))
    assert not stood(instrument, on(3), known_on=on(5))


def test_one_counts_as_inspected_from_the_day_on():
    instrument = make_instrument()
    make_inspection(instrument=instrument, at=at(2))
    assert inspected_on(AsOf(on(1)), keys=[instrument.pk]) == set()
    assert inspected_on(AsOf(on(2)), keys=[instrument.pk]) == {instrument.pk}
    assert inspected_on(AsOf(on(2), known_on=on(1)), keys=[instrument.pk]) == set()


def test_what_is_known_today_is_what_the_records_say(director, school):
    for number in range(3):
        instrument = make_instrument(school=school, replacement_amount=Decimal(600 + number))
        change_instrument(instrument=instrument, actor=director, at=at(number), year_made=2000 + number)
    assert Instrument.objects.count() == 3
    assert all_of(AsOf(on(1), known_on=on(30))) == all_of(AsOf(on(1)))
