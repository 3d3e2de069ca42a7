"""The part of a form where an agreement gets signed."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

from loans.forms import SignForm
from tests.factories import make_student
from tests.loans.makers import ink, ink_address


@pytest.fixture
def student(school):
    return make_student(school=school, guardian_name="Gale Guardian")


def sign_form(student, scan=None, **typed):
    data = QueryDict(mutable=True)
    data.update({"terms": "1", "signed": "paper"} | typed)
    files = MultiValueDict({"scan": [SimpleUploadedFile("paper.png", scan)]} if scan else {})
    return SignForm(data, files, borrower=student)


def test_a_scan_is_enough(student):
    form = sign_form(student, ink())
    assert form.is_valid(), form.errors
    signing = form.signing()
    assert signing["scan"].kind == "image/jpeg"
    assert signing["terms"].version == 1


def test_on_the_screen_the_guardian_of_the_student_signs(student):
    form = sign_form(student, signed="screen", student_signature=ink_address(), guardian_signature=ink_address())
    assert form.is_valid(), form.errors
    assert form.signing()["guardian_signer"] == "Gale Guardian"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({}, "scan"),
        ({"signed": "later"}, "signed"),
        ({"terms": "7"}, "terms"),
        ({"signed": "screen"}, "student_signature"),
    ],
)
def test_what_is_missing_is_said_at_its_field(student, change, field):
    assert field in sign_form(student, **change).errors
