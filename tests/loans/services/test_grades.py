"""Grades go up once a school year, with whoever was shown, and can be taken back."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.models import Event
from loans.exceptions import StudentRefusedError
from loans.models import GradeRoll, Student
from loans.services import change_student, erase_student, roll_grades, undo_grade_roll
from tests.contests import at_once, went_well
from tests.factories import NOW, TODAY, make_director, make_school, make_student, new_nonce
from tests.loans.makers import make_grade_roll, make_loan
from tests.opening import differences

LATER = NOW + timedelta(days=1)
STEPS = {"6": "7", "7": "8", "8": ""}


def grades(school) -> list[str]:
    return list(Student.objects.filter(school=school).order_by("pk").values_list("grade", flat=True))


@pytest.fixture
def school(db):
    return make_school()


@pytest.fixture
def six(school):
    return [make_student(school=school, grade=grade) for grade in ("6", "6", "7", "8", "8", "12th")]


def test_each_goes_up_and_the_highest_leave_or_are_flagged_and_all_of_it_is_taken_back(school, six):
    private = (
        make_student(school=school, grade="6", off_roster_on=TODAY),
        make_student(school=school, grade="6", left_on=TODAY),
    )
    make_loan(student=six[4], school=school)
    before = Event.objects.count()
    roll = make_grade_roll(school=school, steps=STEPS, staying={six[1].pk})
    assert grades(school) == ["7", "6", "8", "8", "8", "12th", *(one.grade for one in private)]
    state = Student.objects.in_bulk([six[3].pk, six[4].pk])
    assert (state[six[3].pk].left_on, state[six[4].pk].left_on, state[six[4].pk].off_roster_on) == (TODAY, None, TODAY)
    told = Event.objects.filter(act="grades_went_up").get()
    assert (told.after["up"], told.after["left"], told.after["flagged"]) == (2, 1, 1)
    assert Event.objects.count() == before + 3  # one for the grades, one for each who leaves
    assert (roll.up_count, roll.left_count) == (2, 2)
    change_student(student=six[2], name=six[2].name, grade="9", level="concert", actor=roll.actor, at=NOW)
    undo_grade_roll(roll=roll, actor=roll.actor, at=LATER)
    assert grades(school)[:6] == ["6", "6", "9", "8", "8", "12th"]  # what was changed by hand stays
    assert not Student.objects.filter(pk__in=[one.pk for one in six]).exclude(left_on=None, off_roster_on=None).exists()
    with pytest.raises(StudentRefusedError, match="no longer"):
        undo_grade_roll(roll=roll, actor=roll.actor, at=LATER)
    make_grade_roll(school=school, steps=STEPS, at=LATER)  # and again, rightly
    assert differences()[1] == []


def test_twice_in_a_school_year_is_refused_and_the_next_year_it_goes(school, six):
    make_grade_roll(school=school, steps=STEPS)
    with pytest.raises(StudentRefusedError, match="already gone up for the school year 2026–27"):
        make_grade_roll(school=school, steps=STEPS, at=LATER)
    assert grades(school)[0] == "7"
    make_grade_roll(school=school, steps={"7": "8"}, at=NOW + timedelta(days=365))
    assert grades(school)[0] == "8"
    assert [bool(roll.lines) for roll in GradeRoll.objects.order_by("year")] == [False, True]


def test_whom_nobody_was_shown_stops_it(school, six):
    with pytest.raises(StudentRefusedError, match="has changed since you opened"):
        make_grade_roll(school=school, steps=STEPS, seen={"6": 2, "7": 1})
    with pytest.raises(StudentRefusedError, match="Nobody goes up"):
        make_grade_roll(school=school, steps={})
    assert (grades(school)[0], GradeRoll.objects.count()) == ("6", 0)


def test_the_grade_of_before_goes_with_the_name(school, six):
    roll = make_grade_roll(school=school, steps=STEPS)
    erase_student(student=six[0], actor=roll.actor, at=LATER)
    roll.refresh_from_db()
    assert str(six[0].pk) not in roll.lines
    assert str(six[1].pk) in roll.lines


@pytest.mark.django_db(transaction=True)
def test_two_who_do_it_at_once_do_it_once():
    school = make_school()
    student, actors = make_student(school=school), [make_director(school) for _ in range(2)]
    said = {"school": school, "steps": STEPS, "staying": (), "seen": {"6": 1}, "left_on": TODAY, "at": NOW}
    answers = at_once(*(lambda one=one: roll_grades(actor=one, nonce=new_nonce(), **said) for one in actors))
    assert len(went_well(answers)) == 1
    student.refresh_from_db()
    assert student.grade == "7"
