"""Students: the least that is needed, and gone without a trace of the name when it is not needed any more."""

from __future__ import annotations

import pytest

from core.models import Event
from loans.exceptions import StudentRefusedError
from loans.models import Student
from loans.services import add_student, change_student, erase_student, note_student_left
from tests.factories import NOW, TODAY, make_student
from tests.loans.makers import make_loan, state_of_rows

PERSON = {
    "name": "Noa Nightingale",
    "grade": "7",
    "guardian_name": "Gil Nightingale",
    "guardian_contact": "555-0142",
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
    assert Student.objects.get(pk=student.pk).guardian_contact == "555-0142"
    assert "guardian_contact" in Event.objects.get(act="student_changed").after["columns"]
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
