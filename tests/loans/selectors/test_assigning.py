"""What the rules are fed with, and what became of a locked assignment."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import Instrument, Whereabouts
from loans.models import Student
from loans.rules.assigning import Keeps
from loans.selectors.assigning import (
    assigned_instrument,
    assigned_to,
    choices_for,
    lines_of,
    locked_assignment,
    offers_of,
    troubles_of,
    unused_for,
    weights_now,
    wishes_of,
)
from loans.services import lock_assignment, return_loan
from tests.factories import (
    NOW,
    TODAY,
    make_instrument,
    make_limited_instrument,
    make_ready_instrument,
    make_school,
    make_student,
)
from tests.loans.makers import all_back, make_assignment, make_loan, make_period, make_return_walk, make_seat

pytestmark = pytest.mark.django_db


def make_locked(school, director):
    assignment = make_assignment(school=school)
    return lock_assignment(assignment=assignment, seen=assignment.revision, replaces=None, actor=director, at=NOW)


def make_past_loan(**fields):
    loan = make_loan(**fields)
    return return_loan(
        loan=loan,
        accessories_back=all_back(loan),
        taken_back=make_return_walk(loan),
        actor=loan.actor,
        at=NOW + timedelta(days=100),
    )


def test_a_wish_knows_what_its_player_had_and_how_long_it_waits(school):
    seat = make_seat(school=school, kind_code="trumpet", at=NOW - timedelta(days=70))
    before = make_past_loan(student=seat.student, instrument=make_limited_instrument(school=school), limits_reason="x")
    make_past_loan(student=seat.student, instrument=make_ready_instrument(school=school, kind_code="flute"))
    ((demand, wanted),) = wishes_of(school, today=TODAY)
    assert (wanted.had, wanted.had_limits, wanted.waited_days) == (before.instrument_id, True, 70)
    assert (wanted.player, wanted.kind, demand.period) == (seat.student_id, "trumpet", seat.period_id)


def test_offers_say_what_keeps_an_instrument_in_and_whom_it_would_hold_back(school):
    ready, raw = make_ready_instrument(school=school), make_instrument(school=school)
    limited, better = make_limited_instrument(school=school), make_ready_instrument(school=school, level="intermediate")
    bench, out = make_ready_instrument(school=school), make_loan(school=school).instrument
    dirty = make_past_loan(school=school)
    Instrument.objects.filter(pk=bench.pk).update(whereabouts=Whereabouts.ON_BENCH)
    make_ready_instrument(school=make_school())
    offers = {pk: offer for pk, (_, offer) in offers_of(school, {"trumpet"}, today=TODAY).items()}
    keeps = {pk: offer.keeps for pk, offer in offers.items()}
    assert keeps == {
        ready.pk: Keeps.NOTHING, raw.pk: Keeps.OTHER, limited.pk: Keeps.NOTHING, better.pk: Keeps.NOTHING,
        bench.pk: Keeps.BENCH, out.pk: Keeps.OUT, dirty.instrument_id: Keeps.CLEANING,
    }  # fmt: skip
    assert offers[dirty.instrument_id].last_player == dirty.student_id
    assert (offers[ready.pk].condition, offers[limited.pk].condition) == (0, 2)
    assert (offers[ready.pk].is_better, offers[better.pk].is_better) == (False, True)
    assert not offers[ready.pk].misses
    assert "first_year" in offers[limited.pk].misses  # a third slide that is stuck: D4 is sharp
    aged = offers_of(school, {"trumpet"}, today=TODAY + timedelta(days=3000))
    assert aged[ready.pk][1].keeps is Keeps.OTHER


def test_what_is_locked_says_whose_an_instrument_is_until_it_is_lent(school, director):
    assignment = make_locked(school, director)
    line = assignment.lines.get()
    assert locked_assignment(school) == assignment
    assert assigned_to(line.instrument) == line.student
    assert assigned_instrument(line.student) == line.instrument
    assert assigned_instrument(make_student(school=school)) is None
    make_loan(instrument=line.instrument, student=line.student)
    assert assigned_instrument(line.student) is None


@pytest.mark.parametrize("what", ["other", "has", "left", "moved", "kept", "lent", ""])
def test_what_happened_since_to_a_line(school, director, what):
    line = make_locked(school, director).lines.get()
    match what:
        case "other":
            make_loan(instrument=line.instrument)
        case "has":
            make_loan(student=line.student, school=school)
        case "left":
            Student.objects.filter(pk=line.student_id).update(left_on=TODAY)
        case "moved":
            Instrument.objects.filter(pk=line.instrument_id).update(school=make_school())
        case "kept":
            Instrument.objects.filter(pk=line.instrument_id).update(whereabouts=Whereabouts.ON_BENCH)
        case "lent":
            make_loan(instrument=line.instrument, student=line.student)
    lines = lines_of(line.assignment)
    assert troubles_of(lines, today=TODAY) == ({line.pk: what} if what else {})


def test_choices_name_everything_of_the_kind_the_free_first(school):
    make_seat(school=school, kind_code="trumpet")
    make_seat(school=school, kind_code="trumpet")
    mine, theirs = make_ready_instrument(school=school), make_ready_instrument(school=school)
    raw, spare = make_instrument(school=school), make_ready_instrument(school=school)
    assignment = make_assignment(school=school)
    line = assignment.lines.exclude(instrument=None).first()
    rows = choices_for(line, today=TODAY)
    assert [one["instrument"].pk for one in rows][-1] == raw.pk
    assert {one["instrument"].pk: bool(one["for"]) for one in rows} == {
        pk: pk in set(assignment.lines.exclude(pk=line.pk).values_list("instrument", flat=True))
        for pk in (mine.pk, theirs.pk, raw.pk, spare.pk)
    }
    unused, excluded = unused_for(assignment, lines_of(assignment), today=TODAY)
    assert len(unused) == 1
    assert excluded == []


def test_the_weights_are_the_districts_figures():
    assert weights_now() == {"same": 8, "level": 3, "condition": 2, "fairness": 12, "priority": 10, "waited": 2}


def test_wishes_and_offers_take_as_many_queries_for_one_as_for_many(school):
    def cost():
        with CaptureQueriesContext(connection) as seen:
            wishes_of(school, today=TODAY)
            offers_of(school, {"trumpet"}, today=TODAY)
        return len(seen)

    period = make_period(school=school)
    make_seat(place=period, kind_code="trumpet")
    make_limited_instrument(school=school)
    one = cost()
    for _ in range(3):
        make_seat(place=period, kind_code="trumpet")
        make_limited_instrument(school=school)
    assert cost() == one <= 9
