"""The form that asks for the other record."""

from __future__ import annotations

import pytest

from loans.forms.merging import MergeStudentForm
from loans.models import Student
from tests.factories import make_student

pytestmark = pytest.mark.django_db


def test_one_of_the_records_offered_has_to_be_chosen():
    one, other = make_student(), make_student()
    offered = {"others": Student.objects.filter(pk=one.pk), "merged": Student.objects.none()}
    assert MergeStudentForm({"other": one.pk}, **offered).is_valid()
    for typed in ({}, {"other": other.pk}, {"apart": one.pk}):
        assert not MergeStudentForm(typed, **offered).is_valid()
