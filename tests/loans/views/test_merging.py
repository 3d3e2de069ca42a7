"""Merging two records of a student on the page."""

from __future__ import annotations

import pytest
from django.urls import reverse

from loans.models import Student
from tests.factories import make_ready_instrument, make_student
from tests.loans.makers import make_loan

pytestmark = pytest.mark.django_db


def page(name, student):
    return reverse(f"loans:{name}", args=[student.pk])


def test_two_records_become_one_page_with_both_histories_and_are_taken_apart_again(client, school, director):
    kept = make_student(school=school, name="Ana Rivera")
    away, _other = (make_student(school=school, name=name) for name in ("Anna Rivera", "Bo Birch"))
    number = make_loan(instrument=make_ready_instrument(school=kept.school), student=kept).instrument.asset_number
    client.force_login(director)
    offered = client.get(page("merge-student", kept)).context["form"].fields["other"].queryset
    assert list(offered) == [away]
    assert client.post(page("merge-student", kept), {}).status_code == 422
    assert (
        client.post(page("merge-student", away), {"other": kept.pk}).status_code == 422
    )  # the one with the loan is kept
    client.post(page("merge-student", kept), {"other": away.pk})
    assert client.get(page("student", away)).headers["Location"] == page("student", kept)
    assert number in client.get(page("student", kept)).text
    assert "Anna Rivera" not in client.get(reverse("loans:students")).text
    client.post(page("merge-student", kept), {"apart": away.pk})
    assert Student.objects.get(pk=away.pk).merged_into is None
