"""Two records of one student."""

from __future__ import annotations

import pytest

from core.exceptions import RefusedError
from loans.models import Guardian, Loan, Seat, SharedUse, Student
from loans.selectors.roster import people_of
from loans.services import erase_student, lend_to_right_student
from loans.services.merging import merge_students, unmerge_student
from loans.services.students import NewGuardian, add_student, guardian_given
from tests.factories import NOW, TODAY, make_ready_instrument, make_school, make_student, new_nonce
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
    with pytest.raises(RefusedError, match="separate record"):
        unmerge_student(away=away, actor=director, at=NOW)


def test_itself_and_another_schools_are_refused(pair, director):
    refused(pair[0], pair[0], director, "same record")
    refused(pair[0], make_student(school=make_school()), director, "cannot be merged")


def test_what_somebody_has_today_stays_with_the_record_that_is_kept(pair, director):
    kept, away = pair
    make_loan(instrument=make_ready_instrument(school=away.school), student=away)
    refused(kept, away, director, "Merge this one into it")
    make_loan(instrument=make_ready_instrument(school=kept.school), student=kept)
    theirs = Loan.objects.get(student=away)
    refused(kept, away, director, f"open the loan of {theirs.instrument.asset_number}, choose “This was a mistake”")
    lend_to_right_student(loan=theirs, student=kept, actor=director, at=NOW, nonce=new_nonce())
    assert merge_students(kept=kept, away=away, actor=director, at=NOW) == kept


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


def test_what_the_roster_says_goes_along_to_the_record_that_has_the_instrument(school, director):
    """One record came with a list, the other with the roster, by another first name."""
    listed = make_student(school=school, name="Ana Rivera", grade="?", guardian_name="")
    loan = make_loan(instrument=make_ready_instrument(school=school), student=listed)
    guardian = NewGuardian(name="Gale Rivera", email="gale@example.org", sourced_id="g-1")
    facts = {"grade": "7", "number": "4711", "sourced_id": "s-1", "guardians": [guardian]}
    named = add_student(school=school, name="Anastasia Rivera", actor=director, at=NOW, **facts)
    refused(named, listed, director, "Merge this one into it")
    merge_students(kept=listed, away=named, actor=director, at=NOW)
    listed.refresh_from_db()
    assert (listed.number, listed.sourced_id, listed.grade) == ("4711", "s-1", "7")
    assert [guardian_given(row) for row in Guardian.objects.filter(student=listed)] == [guardian]
    (person,) = people_of(school)
    assert (person.pk, person.sourced_id, person.is_out) == (listed.pk, "s-1", True), "the next roster finds this one"
    assert loan.student_id == listed.pk
    assert differences()[1] == []
    unmerge_student(away=named, actor=director, at=NOW)
    assert differences()[1] == []


def test_what_both_records_have_stays_as_it_is(school, director):
    kept, away = (
        make_student(school=school, number=text, sourced_id=f"s-{text}", guardian_name=f"Gale {text}")
        for text in ("1", "2")
    )
    merge_students(kept=kept, away=away, actor=director, at=NOW)
    for student, text in ((kept, "1"), (away, "2")):
        student.refresh_from_db()
        assert (student.number, student.sourced_id, student.guardian_name) == (text, f"s-{text}", f"Gale {text}")


def test_whoever_is_erased_is_erased_with_every_record_of_theirs(pair, director):
    kept, away = pair
    merge_students(kept=kept, away=away, actor=director, at=NOW)
    erase_student(student=kept, actor=director, at=NOW)
    assert not Student.objects.exclude(name="").exists()
    assert Student.objects.exclude(erased_at=None).count() == 2
    assert differences()[1] == []
