"""Students: the least that is needed, and gone without a trace of the name when it is no longer needed."""

from __future__ import annotations

import pytest

from core.models import Event
from loans.exceptions import StudentRefusedError
from loans.models import Guardian, Student
from loans.services import NewGuardian, add_student, change_student, erase_student, note_student_left
from tests.factories import NOW, TODAY, make_school, make_student
from tests.loans.makers import make_loan, state_of_rows
from tests.opening import differences

PERSON = {
    "name": "Noa Nightingale",
    "grade": "7",
    "guardians": [NewGuardian(name="Gil  Nightingale", phone="555-0142", language="es")],
    "level": "second_year",
}
WORDS = ("Nightingale", "555-0142")


def log() -> str:
    return " ".join(f"{row.before}{row.after}{row.thread}{row.subject_id}" for row in Event.objects.all())


def test_a_student_is_added_and_the_log_has_no_name(school, director):
    student = add_student(school=school, actor=director, at=NOW, **PERSON)
    assert (student.school, student.name, student.level) == (school, "Noa Nightingale", "second_year")
    assert Event.objects.get(act="student_added").subject_id == str(student.pk)
    assert not [word for word in WORDS if word in log()]


@pytest.mark.parametrize("change", [{"name": "  "}, {"grade": ""}, {"name": "x" * 10_000}])
def test_a_student_without_name_or_grade_or_of_endless_name_is_refused(school, director, change):
    before = state_of_rows()
    with pytest.raises(StudentRefusedError):
        add_student(school=school, actor=director, at=NOW, **PERSON | change)
    assert state_of_rows() == before


def test_quotes_tags_and_turned_text_are_kept_as_typed(school, director):
    name = 'O\'Neil "<b>Bo</b>" \u202eesrever'
    assert add_student(school=school, actor=director, at=NOW, **PERSON | {"name": name}).name == name


def test_a_change_is_told_by_its_columns_only(school, director):
    student = make_student(school=school)
    change_student(student=student, actor=director, at=NOW, **PERSON)
    assert Student.objects.get(pk=student.pk).guardian.phone == "555-0142"
    assert "guardians" in Event.objects.get(act="student_changed").after["columns"]
    assert not [word for word in WORDS if word in log()]


def test_saving_without_a_change_writes_nothing(school, director):
    student = add_student(school=school, actor=director, at=NOW, **PERSON)
    before = state_of_rows()
    change_student(student=student, actor=director, at=NOW, **PERSON)
    assert state_of_rows() == before


def test_who_has_left_is_not_current_and_may_come_back(school, director):
    student = make_student(school=school)
    note_student_left(student=student, left_on=TODAY, actor=director, at=NOW)
    assert not Student.objects.current().exists()
    note_student_left(student=student, left_on=None, actor=director, at=NOW)
    assert Student.objects.current().exists()
    assert [row.act for row in Event.objects.filter(act__startswith="student_")] == ["student_left", "student_back"]


def test_while_an_instrument_is_out_nobody_is_erased(school, director):
    loan = make_loan(school=school, actor=director)
    before = state_of_rows()
    with pytest.raises(StudentRefusedError):
        erase_student(student=loan.student, actor=director, at=NOW)
    assert state_of_rows() == before
    assert Student.objects.get(pk=loan.student_id).name


def test_what_a_student_waits_for_is_kept_changed_and_erased(school, director):
    student = add_student(**PERSON, school=school, actor=director, at=NOW, wants_kind="trumpet")
    assert student.waits_for == "Trumpet"
    assert list(Student.objects.waiting()) == [student]
    change_student(student=student, **PERSON, actor=director, at=NOW)
    assert Student.objects.get().wants_kind == "trumpet"
    change_student(student=student, **PERSON, actor=director, at=NOW, wants_kind="")
    assert list(Student.objects.waiting()) == []
    change_student(student=student, **PERSON, actor=director, at=NOW, wants_kind="flute")
    erase_student(student=student, actor=director, at=NOW)
    assert Student.objects.get().wants_kind == ""


def test_nobody_waits_for_a_kind_that_there_is_not(school, director):
    with pytest.raises(StudentRefusedError, match="not in the catalog"):
        add_student(**PERSON, school=school, actor=director, at=NOW, wants_kind="kazoo")
    assert not Student.objects.exists()


def test_lists_sort_by_the_family_name_unless_somebody_says_otherwise(school, director):
    student = add_student(**PERSON, school=school, actor=director, at=NOW)
    assert student.sort_name == "Nightingale, Noa"
    new = PERSON | {"name": "Noa de la Cruz"}
    assert change_student(student=student, actor=director, at=NOW, **new).sort_name == "Cruz, Noa de la"
    given = change_student(student=student, actor=director, at=NOW, **new, sort_name="de la Cruz, Noa")
    assert given.sort_name == "de la Cruz, Noa"
    kept = change_student(student=student, actor=director, at=NOW, **PERSON)
    assert kept.sort_name == "de la Cruz, Noa"
    assert (
        change_student(student=student, actor=director, at=NOW, **PERSON, sort_name="").sort_name == "Nightingale, Noa"
    )


def test_guardians_keep_their_places_and_one_given_up_leaves_nothing_behind(school, director):
    second = NewGuardian(name="Ida Moth", email="ida@family.example", sourced_id="g-2")
    student = add_student(
        **PERSON | {"guardians": [*PERSON["guardians"], second]}, school=school, actor=director, at=NOW
    )
    first, other = student.guardians.all()
    assert (first.name, first.language, other.email) == ("Gil Nightingale", "es", "ida@family.example")
    assert Event.objects.get(act="student_added").after == {"guardians": [first.pk, other.pk]}
    change_student(student=student, actor=director, at=NOW, **PERSON | {"guardians": [second]})
    [left] = Student.objects.get().guardians.all()
    assert (left.pk, left.name, left.sourced_id) == (first.pk, "Ida Moth", "g-2")
    assert Guardian.places.filter(pk=other.pk, name="", email="", phone="", contact="", sourced_id="").exists()
    change_student(student=student, actor=director, at=NOW, **PERSON | {"guardians": [second, *PERSON["guardians"]]})
    assert [row.pk for row in Student.objects.get().guardians.all()] == [first.pk, other.pk]
    change_student(student=student, actor=director, at=NOW, **PERSON | {"guardians": None})
    assert Student.objects.get().guardians.count() == 2
    assert differences()[1] == []


@pytest.mark.parametrize("guardian", [NewGuardian(name="Gil", email="gil at home"), NewGuardian(phone="5" * 41)])
def test_an_address_that_is_none_is_refused_and_nobody_is_added(school, director, guardian):
    before = state_of_rows()
    with pytest.raises(StudentRefusedError):
        add_student(**PERSON | {"guardians": [guardian]}, school=school, actor=director, at=NOW)
    assert state_of_rows() == before


@pytest.mark.parametrize("who", ["staff", "group"])
def test_staff_and_groups_have_no_grade_and_no_guardian(school, director, who):
    adult = add_student(school=school, name="Oak Street Band", who=who, actor=director, at=NOW)
    assert (adult.grade, adult.guardian) == ("", None)
    assert adult.sort_name == ("Oak Street Band" if who == "group" else "Band, Oak Street")
    with pytest.raises(StudentRefusedError, match="Only a student"):
        add_student(school=school, who=who, actor=director, at=NOW, **PERSON)
    student = add_student(**PERSON, school=school, actor=director, at=NOW)
    changed = change_student(student=student, name="Noa", grade="7", level="concert", who=who, actor=director, at=NOW)
    assert (changed.grade, Student.objects.get(pk=student.pk).guardian) == ("", None)
    with pytest.raises(StudentRefusedError, match="grade"):
        change_student(student=student, name="Noa", grade="", level="concert", who="student", actor=director, at=NOW)


@pytest.mark.parametrize("column", ["number", "sourced_id"])
def test_a_number_is_one_students_of_a_school(school, director, column):
    person = PERSON | {column: " 4711 "}
    first = add_student(**person, school=school, actor=director, at=NOW)
    assert getattr(first, column) == "4711"
    other = add_student(**PERSON, school=school, actor=director, at=NOW)
    add_student(**person, school=make_school(), actor=director, at=NOW)
    for act in (
        lambda: add_student(**person, school=school, actor=director, at=NOW),
        lambda: change_student(student=other, **person, actor=director, at=NOW),
    ):
        with pytest.raises(StudentRefusedError, match="Another student"):
            act()
    change_student(student=first, **PERSON, actor=director, at=NOW)
    assert getattr(Student.objects.get(pk=first.pk), column) == "4711"
    erase_student(student=first, actor=director, at=NOW)
    change_student(student=other, **person, actor=director, at=NOW)
