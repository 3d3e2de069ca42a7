from __future__ import annotations

from inventory.models import School
from loans.forms import StudentForm, StudentLeftForm
from loans.models import Guardian
from tests.factories import make_school, make_student

TYPED = {"name": "Quinn", "grade": "6", "level": "first_year"}


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


def test_an_address_has_as_many_lines_as_show_in_the_window(school):
    lines = ["12 Elm St", "", "  Apt  4", "Anywhere, KS 66002", "USA"]
    schools = School.objects.filter(pk=school.pk)
    form = StudentForm(TYPED | {"guardian1_address": "\r\n".join(lines)}, schools=schools)
    assert "At most 3 lines" in form.errors["guardian1_address"][0]
    assert StudentForm(TYPED | {"guardian1_address": "\r\n".join(lines[:4])}, schools=schools).is_valid()


def test_a_day_of_leaving_has_to_be_a_day():
    assert not StudentLeftForm({"left_on": "soon"}).is_valid()


def test_a_contact_of_old_and_a_guardian_that_is_not_shown_are_kept(school):
    student = make_student(school=school, guardian_name="Gil", guardian_contact="ask at the office")
    for place in (2, 3):
        Guardian.objects.create(student=student, place=place, name=f"Number {place}", sourced_id=f"g-{place}")
    form = StudentForm(schools=[], student=student)
    assert form["guardian1_contact"].value() == "ask at the office"
    assert "guardian2_contact" not in form.fields
    sent = {field.html_name: field.value() or "" for field in form}
    again = StudentForm(sent, schools=[], student=student)
    assert again.is_valid()
    assert [(one.name, one.contact, one.sourced_id) for one in again.facts["guardians"]] == [
        ("Gil", "ask at the office", ""), ("Number 2", "", "g-2"), ("Number 3", "", "g-3"),
    ]  # fmt: skip
    assert "sort_name" not in again.facts


def test_only_a_student_needs_a_grade(school):
    schools = School.objects.filter(pk=school.pk)
    assert "grade" in StudentForm(TYPED | {"grade": ""}, schools=schools).errors
    form = StudentForm(TYPED | {"grade": "", "who": "staff", "guardian1_name": "Lee"}, schools=schools)
    assert form.is_valid()
    assert (form.facts["who"], form.facts["guardians"]) == ("staff", [])


def test_a_name_for_lists_is_shown_where_somebody_gave_one(school):
    student = make_student(school=school, name="Noa de la Cruz", sort_name="de la Cruz, Noa")
    form = StudentForm(schools=[], student=student)
    assert form["sort_name"].value() == "de la Cruz, Noa"
    facts = {"sort_name": "", "name": "Noa de la Cruz"}
    emptied = StudentForm(TYPED | facts, schools=[], student=student)
    assert emptied.is_valid()
    assert emptied.facts["sort_name"] == ""
