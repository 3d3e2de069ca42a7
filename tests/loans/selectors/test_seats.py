"""Who needs what, and how many of each kind there are."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import Instrument, Whereabouts
from loans.selectors.seats import (
    demands_of,
    level_words,
    need_of,
    places_of,
    seats_in,
    unmet_counts,
    unseated_students,
)
from tests.factories import NOW, TODAY, make_instrument, make_ready_instrument, make_school, make_student
from tests.loans.makers import make_ensemble, make_loan, make_period, make_seat

pytestmark = pytest.mark.django_db


def test_two_seats_of_a_student_for_one_kind_are_one_need_for_the_harder_one(school):
    student = make_student(school=school, level="second_year")
    jazz = make_ensemble(school=school, level="concert", priority=3)
    second = make_period(school=school, place=2, ensemble=make_ensemble(school=school, level="marching", priority=7))
    make_seat(student=student, place=jazz, kind_code="trumpet", at=NOW)
    make_seat(student=student, place=second, kind_code="trumpet", at=NOW - timedelta(days=9))
    (demand,) = demands_of(school)
    assert (demand.student, demand.kind, demand.level, demand.priority) == (student.pk, "trumpet", "concert", 3)
    assert demand.since == (NOW - timedelta(days=9)).date()
    assert demand.period == second.pk
    assert demand.ensemble == jazz.name


def test_the_level_is_the_seats_then_the_ensembles_then_the_students(school):
    band = make_ensemble(school=school, level="concert")
    student = make_student(school=school, level="second_year")
    make_seat(student=student, place=make_period(school=school), kind_code="flute")
    make_seat(school=school, place=make_period(ensemble=band), kind_code="oboe")
    make_seat(school=school, place=make_period(ensemble=band), kind_code="tuba", level="first_year")
    assert {one.kind: one.level for one in demands_of(school)} == {
        "flute": "second_year", "oboe": "concert", "tuba": "first_year",
    }  # fmt: skip


def test_the_need_of_a_kind_beside_what_there_is(school):
    band = make_ensemble(school=school, level="concert")
    has = make_seat(place=band, kind_code="trumpet")
    for _ in range(3):
        make_seat(place=band, kind_code="trumpet")
    make_seat(place=band, kind_code="trumpet", is_own=True)
    make_student(school=school, wants_kind="trumpet", level="first_year")
    make_seat(school=make_school(), kind_code="trumpet")
    make_loan(school=school, student=has.student)
    make_ready_instrument(school=school)
    make_instrument(school=school)  # nobody has inspected it
    bench = make_ready_instrument(school=school)
    Instrument.objects.filter(pk=bench.pk).update(whereabouts=Whereabouts.ON_BENCH)
    (need,) = need_of(school, today=TODAY)
    assert (need.kind, need.needed, need.playing, need.free, need.kept, need.bench) == ("trumpet", 5, 1, 1, 1, 1)
    assert (need.short, need.short_after_bench) == (3, 2)
    assert level_words(need.levels.items()) == [("first_year", 1), ("concert", 4)]
    (later,) = need_of(school, today=TODAY + timedelta(days=3000))
    assert (later.free, later.kept) == (0, 2)


def test_sizes_are_lines_of_their_own_and_no_instrument_counts_twice(school):
    for size in ("1/2", "3/4", ""):
        make_seat(school=school, kind_code="violin", **({"size": size} if size else {}))
    for size in ("1/2", "4/4", "4/4"):
        make_ready_instrument(school=school, kind_code="violin", options={"size": size})
    lines = {line.size: (line.needed, line.free, line.short) for line in need_of(school, today=TODAY)}
    assert lines == {"": (1, 2, 0), "1/2": (1, 1, 0), "3/4": (1, 0, 1)}


def test_a_class_lists_its_seats_with_what_each_player_has(school):
    period = make_period(school=school)
    seats = {name: make_seat(student=make_student(school=school, name=name), place=period) for name in ("Zoe", "Ana")}
    loan = make_loan(school=school, student=seats["Zoe"].student)
    type(seats["Zoe"]).objects.filter(pk=seats["Zoe"].pk).update(kind_code="trumpet")
    make_seat(student=make_student(school=school, left_on=None), place=make_period(school=school))
    rows = list(seats_in(period))
    assert [(row.student.name, row.has) for row in rows] == [("Ana", None), ("Zoe", loan.instrument.asset_number)]
    assert {one.name for one in unseated_students(period)}.isdisjoint({"Zoe", "Ana"})
    (other,) = unseated_students(period)
    assert other.elsewhere == 1


def test_places_count_who_is_there_and_who_has_no_kind_yet(school):
    period = make_period(school=school, place=2)
    make_period(school=school, place=1)
    make_seat(school=school, place=period)
    make_seat(school=school, place=period, kind_code="tuba")
    gone = make_seat(school=school, place=period, kind_code="tuba")
    type(gone.student).objects.filter(pk=gone.student_id).update(left_on=TODAY)
    jazz = make_ensemble(school=school)
    ensembles, periods = places_of(school)
    assert [(one.pk, one.seated, one.unsaid) for one in ensembles] == [(jazz.pk, 0, 0)]
    assert [(one.place, one.seated, one.unsaid) for one in periods] == [(1, 0, 0), (2, 2, 1)]


def test_need_takes_as_many_queries_for_one_seat_as_for_many(school):
    def cost():
        with CaptureQueriesContext(connection) as seen:
            need_of(school, today=TODAY)
        return len(seen)

    make_seat(school=school, kind_code="tuba")
    one = cost()
    for kind in ("tuba", "flute", "oboe"):
        make_seat(school=school, kind_code=kind)
        make_ready_instrument(school=school, kind_code=kind)
    assert cost() == one <= 5


def test_unmet_counts_by_school_and_kind(school):
    make_seat(school=school, kind_code="tuba")
    make_seat(school=make_school(), kind_code="tuba")
    assert unmet_counts([school.pk], ["tuba", "flute"]) == {(school.pk, "tuba"): 1}
