"""A page of one form: what is refused stays typed, and is 422."""

from __future__ import annotations

from django.urls import reverse

from repairs.models import Shop


def test_what_a_form_refuses_stays_typed(desk):
    answer = desk.post(reverse("repairs:add-shop"), {"name": "", "contact": '<b>"Lee"</b>'})
    assert answer.status_code == 422
    assert "&lt;b&gt;&quot;Lee&quot;&lt;/b&gt;" in answer.text


def test_what_a_service_refuses_is_said_on_the_form(desk):
    for status in (302, 422):
        answer = desk.post(reverse("repairs:add-shop"), {"name": "Brook Street"})
        assert answer.status_code == status
    assert "already on the list" in answer.text
    assert Shop.objects.count() == 1


def test_ten_thousand_letters_are_refused_and_nothing_is_written(desk):
    assert desk.post(reverse("repairs:add-shop"), {"name": "x" * 10_000}).status_code == 422
    assert not Shop.objects.exists()
