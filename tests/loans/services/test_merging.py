"""Two records of one student."""

from __future__ import annotations

import pytest

from core.exceptions import RefusedError
from loans.models import Seat, SharedUse, Student
from loans.services import erase_student
from loans.services.merging import merge_students, unmerge_student
from tests.factories import NOW, TODAY, make_ready_instrument, make_school, make_student
from tests.loans.makers import make_loan, make_period, make_seat, make_shared_use
from tests.opening import differences

pytestmark = pytest.mark.django_db


@pytest.fixture
def pair(school):
    return make_student(school=school, name="Ana Rivera"), make_student(school=school, name="Ana Rivera")


def refused(kept, away, director, words):
    with pytest.raises(RefusedError, match=words):
        merge_students(kept=kept, away=away, actor=director, at=NOW)
    assert not Student.objects.exclude(merged_into=None).exists()


def test_the_other_record_leads_to_the_one_that_is_kept_and_can_be_taken_apart_again(pair, director):
    kept, away = pair
    merge_students(kept=kept, away=away, actor=director, at=NOW)
    assert list(Student.objects.current()) == [kept]
    assert differences()[1] == []
    with pytest.raises(RefusedError, match="already"):
        merge_students(kept=kept, away=away, actor=director, at=NOW)
    unmerge_student(away=away, actor=director, at=NOW)
    assert Student.objects.current().count() == 2
    assert differences()[1] == []
    with pytest.raises(RefusedError, match="record of its own"):
        unmerge_student(away=away, actor=director, at=NOW)


def test_itself_and_another_schools_are_refused(pair, director):
    refused(pair[0], pair[0], director, "same record")
    refused(pair[0], make_student(school=make_school()), director, "cannot be merged")


def test_what_somebody_has_today_stays_with_the_record_that_is_kept(pair, director):
    kept, away = pair
    make_loan(instrument=make_ready_instrument(school=away.school), student=away)
    refused(kept, away, director, "Merge this one into it")
    make_loan(instrument=make_ready_instrument(school=kept.school), student=kept)
    refused(kept, away, director, "Both have an instrument")


def test_seats_and_what_they_share_go_along_each_once(pair, director):
    kept, away = pair
    first, second, third = (make_period(school=kept.school) for _ in range(3))
    both = [make_seat(student=one, place=first, kind_code="tuba") for one in (kept, away)]
    blank = make_seat(student=kept, place=second)
    theirs = make_seat(student=away, place=second, kind_code="tuba")
    twice = [make_seat(student=one, place=third, kind_code="tuba") for one in (kept, away)]
    moved, along = make_shared_use(seat=both[1]), make_shared_use(seat=theirs)
    stays, ended = (make_shared_use(seat=seat) for seat in twice)
    merge_students(kept=kept, away=away, actor=director, at=NOW)
    for use in (moved, along, ended):
        use.refresh_from_db()
    assert (moved.seat, along.seat.student, ended.until) == (both[0], kept, TODAY)
    assert set(SharedUse.objects.open()) == {moved, along, stays}
    assert set(Seat.objects.filter(until=None)) == {both[0], theirs, twice[0]}
    blank.refresh_from_db()
    assert blank.until == TODAY, "what is played there is known now"
    assert differences()[1] == []


def test_a_student_number_is_not_lost(pair, director):
    kept, away = pair
    Student.objects.filter(pk=away.pk).update(number="4711")
    refused(kept, away, director, "student number")
    Student.objects.filter(pk=kept.pk).update(number="4712")
    merge_students(kept=kept, away=away, actor=director, at=NOW)


def test_whoever_is_erased_is_erased_with_every_record_of_theirs(pair, director):
    kept, away = pair
    merge_students(kept=kept, away=away, actor=director, at=NOW)
    erase_student(student=kept, actor=director, at=NOW)
    assert not Student.objects.exclude(name="").exists()
    assert Student.objects.exclude(erased_at=None).count() == 2
    assert differences()[1] == []
