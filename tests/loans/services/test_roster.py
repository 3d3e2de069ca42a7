"""What a roster writes: all or nothing, once, with counts and keys in the log and names nowhere but in the rows."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from django.utils import timezone

from core.models import Event, Revision
from loans.exceptions import RosterRefusedError
from loans.models import ClassPeriod, Guardian, RosterChoice, Seat, Student
from loans.rules.roster import ZipSource, check_roster, read_people
from loans.services import (
    Imported,
    NewGuardian,
    SchoolRoster,
    add_student,
    choose_courses,
    erase_student,
    import_rosters,
    note_student_left,
    return_loan,
)
from tests.factories import NOW, TODAY, make_director, make_school, make_student
from tests.loans.makers import all_back, make_loan, make_return_walk
from tests.opening import differences
from tests.rosters import enrollment, files_of, school_rows, zip_of

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(days=30)


@pytest.fixture
def north():
    return make_school(code="NHS")


def roster(rows=None, *, courses=("band",), **how):
    source = ZipSource(zip_of(files_of(rows or school_rows(), **how)))
    checked = check_roster(source)
    assert checked.problems == ()
    return read_people(source, checked, courses=courses, today=TODAY)


def bring(school, rows=None, *, at=NOW, answers=None, actor=None):
    (done,) = import_rosters(rosters=[SchoolRoster(school, roster(rows), answers)], actor=actor, at=at)
    return done


def without(rows, key):
    rows["enrollments"] = [one for one in rows["enrollments"] if one["userSourcedId"] != key]
    return rows


def test_students_guardians_classes_and_seats(north):
    assert bring(north) == Imported(new=2)
    ana = Student.objects.get(sourced_id="s-1")
    assert (ana.name, ana.sort_name, ana.number, ana.grade, ana.school) == (
        "Ana Rivera", "Rivera, Ana", "40017", "9", north,
    )  # fmt: skip
    assert [(one.name, one.email, one.phone, one.place) for one in ana.guardians.all()] == [
        ("Luz Rivera", "luz@home.example", "555-0101", 1)
    ]
    period = ClassPeriod.objects.get()
    assert (period.name, period.place, period.sourced_id) == ("Concert Band, second period", 2, "band-2")
    assert {seat.student.sourced_id for seat in Seat.objects.open()} == {"s-1", "s-2"}


def test_a_second_time_nothing_is_written(north):
    bring(north)
    before = Event.objects.count()
    assert bring(north, at=LATER) == Imported()
    assert Event.objects.count() == before
    assert Student.objects.count() == 2


def test_the_log_holds_counts_and_no_names(north):
    bring(north)
    done = Event.objects.get(act="roster_imported")
    assert done.after == {"new": 2, "changed": 0, "left": 0, "flagged": 0}
    told = json.dumps([[one.before, one.after] for one in Event.objects.all()])
    for word in ("Ana", "Rivera", "40017", "luz@home.example", "555-0101", "Concert"):
        assert word not in told
    assert not Revision.objects.exists()


def test_a_problem_on_the_way_takes_everything_back(north):
    make_student(school=north, name="Ben Okafor")
    other = make_school(code="SHS")
    with pytest.raises(RosterRefusedError, match="same name"):
        import_rosters(rosters=[SchoolRoster(other, roster()), SchoolRoster(north, roster())], actor=None, at=NOW)
    assert Student.objects.count() == 1
    assert not ClassPeriod.objects.exists()
    rows = school_rows()
    rows["users"][2]["identifier"] = "40017"
    with pytest.raises(RosterRefusedError, match="number"):
        bring(other, rows)
    assert Student.objects.count() == 1


def test_answers_join_the_same_name_or_keep_two(north):
    ben = make_student(school=north, name="Ben Okafor", grade="8")
    bring(north, answers={"s-2": ben.pk})
    ben.refresh_from_db()
    assert (ben.sourced_id, ben.number, ben.grade) == ("s-2", "40018", "10")
    assert Student.objects.count() == 2
    other = make_school(code="SHS")
    make_student(school=other, name="Ben Okafor")
    bring(other, answers={"s-2": 0})
    assert Student.objects.filter(school=other).count() == 3


def test_a_number_as_typed_before_finds_the_student_and_typed_guardians_stay(north):
    actor = make_director(north)
    typed = [
        NewGuardian(name="Luz Rivera", contact="after six", language="es"),
        NewGuardian(name="Aunt May", phone="555-0177"),
    ]
    add_student(
        school=north, name="Anita Rivera", grade="8", number="40017", guardians=typed, actor=actor, at=NOW
    )  # fmt: skip
    assert bring(north) == Imported(new=1, changed=1)
    ana = Student.objects.get(number="40017")
    assert (ana.name, ana.sourced_id) == ("Ana Rivera", "s-1")
    assert [(one.name, one.contact, one.language, one.email) for one in ana.guardians.all()] == [
        ("Luz Rivera", "after six", "es", "luz@home.example"),
        ("Aunt May", "", "en", ""),
    ]


def test_leavers_are_noted_and_flagged_while_an_instrument_is_out(north):
    bring(north)
    ana, ben = Student.objects.get(sourced_id="s-1"), Student.objects.get(sourced_id="s-2")
    actor = make_director(north)
    loan = make_loan(student=ana, school=north, actor=actor)
    rows = without(without(school_rows(), "s-1"), "s-2")
    rows["enrollments"].append(enrollment("e-9", "band-2", "s-3"))
    assert bring(north, rows, at=LATER) == Imported(new=1, left=1, flagged=1)
    ana.refresh_from_db(), ben.refresh_from_db()
    assert (ana.left_on, ana.off_roster_on) == (None, timezone.localdate(LATER))
    assert ben.left_on == timezone.localdate(LATER)
    assert not Seat.objects.open().filter(student__in=[ana, ben]).exists()
    before = Event.objects.count()
    assert bring(north, rows, at=LATER) == Imported()
    assert Event.objects.count() == before
    walk = make_return_walk(loan, at=LATER, actor=actor)
    return_loan(loan=loan, taken_back=walk, accessories_back=all_back(loan), actor=actor, at=LATER)
    assert bring(north, rows, at=LATER + timedelta(days=1)) == Imported(left=1)
    assert bring(north, at=LATER + timedelta(days=2)) == Imported(changed=2, left=1)
    ana.refresh_from_db()
    assert (ana.left_on, ana.off_roster_on) == (None, None)
    assert Seat.objects.open().filter(student=ana).exists()


def test_who_was_noted_as_left_by_hand_stays_so(north):
    bring(north)
    ana = Student.objects.get(sourced_id="s-1")
    note_student_left(student=ana, left_on=TODAY, actor=make_director(north), at=NOW)
    assert bring(north, at=LATER) == Imported()
    ana.refresh_from_db()
    assert ana.left_on == TODAY


def test_two_students_may_exchange_their_numbers(north):
    bring(north)
    rows = school_rows()
    rows["users"][1]["identifier"], rows["users"][2]["identifier"] = "40018", "40017"
    assert bring(north, rows) == Imported(changed=2)
    assert Student.objects.get(sourced_id="s-1").number == "40018"


def test_a_student_whose_grade_the_roster_does_not_tell(north):
    rows = school_rows()
    rows["users"][1]["grades"] = ""
    bring(north, rows)
    assert Student.objects.get(sourced_id="s-1").grade == ""


def test_an_erased_student_stays_erased(north):
    bring(north)
    ana = Student.objects.get(sourced_id="s-1")
    erase_student(student=ana, actor=make_director(north), at=NOW)
    bring(north, without(school_rows(), "s-1"))
    ana.refresh_from_db()
    assert (ana.name, ana.sourced_id, ana.off_roster_on) == ("", "", None)
    assert not Guardian.objects.filter(student=ana).exists()


def test_courses_are_remembered_and_given_up(north):
    choose_courses(school=north, courses={"band": "Concert Band", "choir": "Choir"}, actor=None, at=NOW)
    choose_courses(school=north, courses={"band": "Wind Band"}, actor=None, at=NOW)
    before = Event.objects.count()
    choose_courses(school=north, courses={"band": "Wind Band"}, actor=None, at=NOW)
    assert Event.objects.count() == before
    assert set(RosterChoice.objects.values_list("sourced_id", "title", "is_taken")) == {
        ("band", "Wind Band", True),
        ("choir", "Choir", False),
    }


def test_a_class_renamed_moved_or_gone(north):
    bring(north)
    rows = school_rows()
    rows["classes"][0] |= {"title": "Symphonic Band", "periods": "4"}
    bring(north, rows)
    assert list(ClassPeriod.objects.values_list("name", "place")) == [("Symphonic Band", 4)]
    rows["classes"][0]["sourcedId"] = "band-4"
    for one in rows["enrollments"][:3]:
        one["classSourcedId"] = "band-4"
    bring(north, rows)
    assert dict(ClassPeriod.objects.values_list("sourced_id", "is_active")) == {"band-2": False, "band-4": True}
    assert {seat.period.sourced_id for seat in Seat.objects.open()} == {"band-4"}


def test_what_it_wrote_agrees_with_the_log(north):
    actor = make_director(north)
    bring(north, actor=actor)
    choose_courses(school=north, courses={"band": "Concert Band"}, actor=actor, at=NOW)
    bring(north, without(school_rows(), "s-1"), at=LATER, actor=actor)
    bring(north, at=LATER, actor=actor)
    assert differences()[1] == []
