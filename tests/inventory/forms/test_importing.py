"""What is sent, and what is chosen for each column."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from inventory.forms.importing import ColumnsForm, SendListForm
from inventory.models import School
from inventory.rules.intake.mapping import guess_mapping

GUESS = guess_mapping(header=("Instrument", "Whatnot"), sample_rows=(), remembered={})


def test_the_guess_is_what_the_form_begins_with():
    form = ColumnsForm(guess=GUESS)
    assert [field.initial for field in form.fields.values()] == ["kind", ""]


def test_choices_are_read_by_the_columns_place():
    form = ColumnsForm({"column-0": "kind", "column-1": "serial"}, guess=GUESS)
    assert form.is_valid()
    assert form.choices_made() == {0: "kind", 1: "serial"}


def test_a_meaning_that_does_not_exist_is_refused():
    assert not ColumnsForm({"column-0": "nonsense"}, guess=GUESS).is_valid()


@pytest.mark.django_db
def test_a_file_too_large_is_refused_before_it_is_read(school, monkeypatch):
    monkeypatch.setattr("inventory.forms.importing.LARGEST_FILE", 3)
    form = SendListForm(
        {"school": school.pk}, {"file": SimpleUploadedFile("a.csv", b"too long")}, schools=School.objects.all()
    )
    assert not form.is_valid()
    assert "larger than" in form.errors["file"][0]


@pytest.mark.django_db
def test_a_missing_file_says_so(school):
    form = SendListForm({"school": school.pk}, {}, schools=School.objects.all())
    assert form.errors["file"] == ["Choose the file."]
