from __future__ import annotations

from inventory.models import School
from loans.forms import StudentForm, StudentLeftForm
from tests.factories import make_school, make_student

TYPED = {"name": "Quinn", "grade": "6", "level": "first_year", "guardian_name": "", "guardian_contact": ""}


def test_with_one_school_nobody_is_asked_for_it(school):
    form = StudentForm(TYPED, schools=School.objects.filter(pk=school.pk))
    assert "school" not in form.fields
    assert form.is_valid()
    assert form.chosen_school() == school


def test_with_two_schools_one_has_to_be_chosen(school):
    other = make_school()
    schools = School.objects.filter(pk__in=[school.pk, other.pk])
    assert "school" in StudentForm(TYPED, schools=schools).errors
    form = StudentForm(TYPED | {"school": other.pk}, schools=schools)
    assert form.is_valid()
    assert form.chosen_school() == other


def test_a_school_one_may_not_see_cannot_be_chosen(school):
    schools = School.objects.filter(pk__in=[school.pk, make_school().pk])
    assert "school" in StudentForm(TYPED | {"school": make_school().pk}, schools=schools).errors


def test_a_change_begins_with_what_is_known(school):
    student = make_student(school=school, name="Noa")
    assert StudentForm(schools=[], student=student)["name"].value() == "Noa"


def test_a_name_without_end_is_refused_in_words(school):
    form = StudentForm(TYPED | {"name": "x" * 10_000}, schools=School.objects.filter(pk=school.pk))
    assert "120" in form.errors["name"][0]


def test_a_day_of_leaving_has_to_be_a_day():
    assert not StudentLeftForm({"left_on": "soon"}).is_valid()
