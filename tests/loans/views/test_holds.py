"""An administrator holds a record without learning whose it is."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from loans.models import LegalHold
from tests.factories import make_student, new_nonce
from tests.loans.makers import make_loan

pytestmark = pytest.mark.django_db


def test_a_hold_is_set_and_lifted_on_a_page_that_names_nobody(client, administrator, director, school):
    student = make_student(school=school, name="Robin Reed", guardian_name="Gale Reed")
    loan = make_loan(school=school, student=student, actor=director)
    url = reverse("loans:holds", args=[student.pk])
    client.force_login(administrator)
    assert url in client.get(reverse("loans:loan", args=[loan.pk])).text
    day = timezone.localdate() + timedelta(days=90)
    page = client.post(url, {"reason": "Case 12", "ends_on": day.isoformat(), "nonce": new_nonce()}, follow=True).text
    hold = LegalHold.objects.get()
    assert (hold.student, hold.reason, hold.ends_on) == (student, "Case 12", day)
    assert f"Student {student.pk}" in page
    assert "Case 12" in page
    assert "Reed" not in page
    lift = reverse("loans:lift-hold", args=[hold.pk])
    assert lift in page
    assert "The hold is lifted." in client.post(lift, follow=True).text
    assert lift not in client.get(url).text


def test_a_refusal_is_said(client, administrator, school):
    url = reverse("loans:holds", args=[make_student(school=school).pk])
    client.force_login(administrator)
    answer = client.post(url, {"reason": "Case 12", "ends_on": "2001-01-01", "nonce": new_nonce()})
    assert answer.status_code == 422
    assert "between today and 30 years" in answer.text


def test_a_director_is_not_offered_it(client, director, school):
    loan = make_loan(school=school, actor=director)
    url = reverse("loans:holds", args=[loan.student_id])
    client.force_login(director)
    assert url not in client.get(reverse("loans:loan", args=[loan.pk])).text
    assert client.get(url).status_code == 403
