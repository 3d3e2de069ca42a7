"""What a director does with notices: print the letters, note what was printed and what came back."""

from __future__ import annotations

import pypdfium2
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from core.models import Event
from loans.models import Notice
from loans.services.notices import note_mailed
from tests.factories import NOW, make_student
from tests.loans.makers import make_agreement, make_letter, make_loan

pytestmark = [pytest.mark.django_db, pytest.mark.page]
URL = "/loans/notices/"


@pytest.fixture
def client(director) -> Client:
    client = Client()
    client.force_login(director)
    return client


def test_letters_are_printed_noted_and_come_back(client, school, director):
    letters = [
        make_letter(make_loan(school=school, student=make_student(school=school, name=name), actor=director))
        for name in ("Robin <Reed>", "Sam Short")
    ]
    page = client.get(URL)
    assert "Robin &lt;Reed&gt;" in page.text
    assert "Print 2 letters" in page.text
    keys = {"notice": [letter.pk for letter in letters]}
    paper = client.post(reverse("loans:letters"), keys)
    with pypdfium2.PdfDocument(paper.content) as document:
        assert len(document) == 2
    assert Notice.objects.to_print().count() == 2  # whoever closes the PDF has not printed it
    assert "2 letters are noted as printed." in client.post(reverse("loans:letters-printed"), keys, follow=True).text
    assert client.post(reverse("loans:letters"), keys).status_code == 302
    assert client.get(reverse("loans:letter", args=[letters[0].pk])).content.startswith(b"%PDF")
    told = Event.objects.filter(act="exported").order_by("number")
    assert [(event.after["what"], event.after["rows"]) for event in told] == [("letters", 2), ("letters", 1)]
    client.post(reverse("loans:notice-came-back", args=[letters[0].pk]))
    assert "Letter came back" in client.get(f"{URL}?state=back").text
    assert "Printed" in client.get(f"{URL}?state=sent").text
    assert "Came back: better call" in client.get("/").text
    assert "Letter came back" in client.get(reverse("loans:loan", args=[letters[0].loan_id])).text


def test_letters_of_selected_loans_say_so_and_stay_those_from_chip_to_chip(client, school, director):
    one, other = (make_letter(make_loan(school=school, actor=director)) for _ in range(2))
    number = one.loan.instrument.asset_number
    page = client.get(URL, {"number": number, "state": "print"}).text
    assert "Selected loans only" in page
    assert "Print 1 letter" in page
    assert f'href="?state=sent&amp;number={number}"' in page
    assert 'href="?state=print"' in page  # shows all
    assert other.loan.instrument.asset_number not in page
    assert "Selected loans only" not in client.get(URL).text


def test_what_is_signed_meanwhile_is_not_to_be_printed(client, school, director):
    letter, other = (make_letter(make_loan(school=school, actor=director)) for _ in range(2))
    assert "Print 2 letters" in client.get(URL).text
    make_agreement(letter.loan)
    assert "Print 1 letter" in client.get(URL).text
    assert 'Letters to print</span> <span class="num">1</span>' in " ".join(client.get("/").text.split())
    keys = {"notice": [letter.pk, other.pk]}
    with pypdfium2.PdfDocument(client.post(reverse("loans:letters"), keys).content) as document:
        assert len(document) == 1
    client.post(reverse("loans:letters-printed"), keys)
    letter.refresh_from_db()
    assert letter.handed_at is None


def test_mail_that_came_back_leaves_a_letter_to_print(client, school, director, settings):
    settings.MAIL_IS_SET = True
    student = make_student(school=school, guardian_contact="gale@family.example")
    mailed = make_letter(make_loan(school=school, student=student, actor=director))
    refused = client.post(reverse("loans:notice-came-back", args=[mailed.pk]), follow=True)
    assert "It was not sent, so it cannot have come back." in refused.text
    note_mailed(notice=mailed, actor=None, at=NOW)
    told = client.post(reverse("loans:notice-came-back", args=[mailed.pk]), follow=True)
    assert "A letter is waiting to be printed instead." in told.text
    assert "Print 1 letter" in told.text
    undo = reverse("loans:undo-came-back", args=[mailed.pk])
    assert undo in client.get(f"{URL}?state=back").text
    assert "The letter in its place is not printed." in client.post(undo, follow=True).text
    assert not Notice.objects.to_print().exists()


def test_another_schools_letters_are_neither_shown_printed_nor_noted(client, stranger):
    other = make_letter(actor=stranger)
    assert other.loan.student.name not in client.get(URL).text
    keys = {"notice": [other.pk, "x"]}
    assert client.post(reverse("loans:letters"), keys).status_code == 302
    client.post(reverse("loans:letters-printed"), keys)
    assert Notice.objects.to_print().get() == other


def test_many_cost_what_one_costs(client, school, director, django_assert_max_num_queries):
    make_letter(make_loan(school=school, actor=director))
    with CaptureQueriesContext(connection) as one:
        client.get(URL)
    for _ in range(3):
        make_letter(make_loan(school=school, actor=director))
    with django_assert_max_num_queries(len(one)):
        client.get(URL)


@pytest.mark.parametrize("page", ["letters", "letters-printed"])
def test_a_key_that_no_column_holds_chooses_no_letter(client, page):
    answer = client.post(reverse(f"loans:{page}"), {"notice": ["9" * 40, "9" * 10_000, "x"]})
    assert (answer.status_code, answer["Location"]) == (302, URL)
