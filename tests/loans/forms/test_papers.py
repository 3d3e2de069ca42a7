"""Whom papers are printed for, and which come back."""

from __future__ import annotations

from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils.datastructures import MultiValueDict

from loans.forms.papers import MOST_PAPERS, MOST_PRINTED, PapersInForm, PrintToSignForm
from loans.models import Student
from tests.factories import make_student
from tests.loans.makers import ink


def test_a_class_is_checked_by_itself_and_names_no_instrument(school, director):
    students = [make_student(school=school) for _ in range(2)]
    form = PrintToSignForm(students=Student.objects.all(), user=director)
    assert set(form["students"].initial) == {student.pk for student in students}
    assert "number" not in form.fields


def test_more_than_fit_are_printed_in_parts(school, director):
    keys = [make_student(school=school).pk for _ in range(MOST_PRINTED + 1)]
    form = PrintToSignForm({"students": keys}, students=Student.objects.all(), user=director)
    assert "uncheck some" in form.errors["students"][0]


def papers_in(count, **typed):
    scans = [SimpleUploadedFile(f"{at}.png", ink()) for at in range(count)]
    return PapersInForm(typed, MultiValueDict({"scans": scans}))


def test_a_typed_code_is_for_one_paper():
    assert "code" in papers_in(2, code="22222222").errors
    assert "code" in papers_in(1, code="ABCD").errors
    assert papers_in(2).is_valid()


def test_files_are_counted_and_looked_at():
    assert "scans" in papers_in(0).errors
    assert "scans" in papers_in(MOST_PAPERS + 1).errors
    odd = PapersInForm({}, MultiValueDict({"scans": [SimpleUploadedFile("paper.jpg", b"MZ no picture")]}))
    assert "paper.jpg" in odd.errors["scans"][0]
