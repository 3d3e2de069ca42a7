"""The list of give-back, class by class, and letters for what is missing."""

from __future__ import annotations

from datetime import timedelta

import pypdfium2
import pytest
from django.urls import reverse

from core.models import Event
from loans.models import Guardian, Notice
from loans.services.notices import make_reminders, note_mailed
from tests.factories import NOW, TODAY, make_student
from tests.loans.makers import make_loan, make_period, make_returned, make_seat

LIST, LETTERS = reverse("desk:expected-back"), reverse("desk:missing-letters")
DUE = TODAY + timedelta(days=5)


@pytest.fixture
def desk(client, director, monkeypatch):
    """Two days after the last day of give-back."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW + timedelta(days=7))
    client.force_login(director)
    return client


@pytest.fixture
def two(school, director):
    """One is in, one is missing."""
    student = make_student(school=school, name="Robin Reed")
    make_seat(student=student, place=make_period(school=school, name="Period 3"), kind_code="trumpet")
    Guardian.objects.filter(student=student).update(name="Rosa Peña", language="es")
    about = {"school": school, "actor": director, "due_on": DUE}
    return make_loan(student=student, **about), make_returned(at=NOW + timedelta(days=4), **about)


def test_the_list_says_what_is_in_and_what_is_out(desk, two):
    missing, back = two
    page = desk.get(LIST).text
    assert "Due by September 19, 2026: 1 of 2 are back." in page
    assert "Period 3" in page
    assert (
        page.index(missing.instrument.asset_number) < page.index("No class") < page.index(back.instrument.asset_number)
    )
    assert back.instrument.asset_number not in desk.get(LIST, {"out": "1"}).text
    assert "Nothing is expected" in desk.get(LIST, {"due": (DUE - timedelta(days=60)).isoformat()}).text
    assert desk.get(LIST, {"due": "2026-99-99"}).status_code == 200


def test_a_missing_one_gets_a_letter_in_the_language_of_its_family_and_nobody_else(desk, two):
    missing, back = two
    answer = desk.post(LETTERS, {"due": DUE.isoformat()})
    assert answer["Content-Type"] == "application/pdf"
    with pypdfium2.PdfDocument(answer.content) as document:
        (text,) = [page.get_textpage().get_text_range() for page in document]
    assert "Rosa Peña" in text
    assert f"{missing.instrument.asset_number}. Debía devolverlo" in " ".join(text.split())
    assert back.instrument.asset_number not in text
    assert Event.objects.filter(act="exported").latest("number").after == {"what": "letters", "form": "pdf", "rows": 1}
    (kept,) = Notice.objects.all()
    assert (kept.loan, kept.way, kept.handed_at) == (missing, "letter", NOW + timedelta(days=7))
    assert "letter printed on Sep 21" in desk.get(LIST).text
    with pypdfium2.PdfDocument(desk.post(LETTERS, {"due": DUE.isoformat()}).content) as again:
        assert len(again) == 1
    assert Notice.objects.get() == kept
    assert desk.post(LETTERS, {"due": (DUE - timedelta(days=60)).isoformat()}).status_code == 302


def test_a_family_told_by_mail_gets_no_letter_and_the_page_says_when(desk, two, settings):
    settings.MAIL_IS_SET = True
    Guardian.objects.update(email="rosa@family.example")
    (mailed,) = [
        one for one in make_reminders(today=TODAY + timedelta(days=8), actor=None, at=NOW) if one.sort == "overdue"
    ]
    assert "e-mail waiting to be sent" in desk.get(LIST).text
    note_mailed(notice=mailed, actor=None, at=NOW + timedelta(days=4))
    page = desk.get(LIST).text
    assert "e-mailed on Sep 18" in page
    assert LETTERS not in page
    assert desk.post(LETTERS, {"due": DUE.isoformat()}).status_code == 302
    assert Notice.objects.filter(sort="overdue").get() == mailed


def test_the_list_costs_the_same_for_one_and_for_many(desk, two, school, director, django_assert_max_num_queries):
    for _ in range(4):
        make_seat(student=make_loan(school=school, actor=director, due_on=DUE).student, kind_code="flute")
    with django_assert_max_num_queries(12):
        desk.get(LIST)
    with pypdfium2.PdfDocument(desk.post(LETTERS, {"due": DUE.isoformat()}).content) as document:
        assert len(document) == 5
    with django_assert_max_num_queries(12):
        desk.get(LIST)
