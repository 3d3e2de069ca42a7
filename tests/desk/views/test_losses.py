"""From the loan's page: reported, worked through, ended; the file for a claim read back by another reader."""

from __future__ import annotations

from decimal import Decimal

import pypdfium2
import pytest
from django.urls import reverse
from django.utils import timezone

from core.models import Event
from core.photos import clean_photo
from inventory.services.care import keep_photo
from loans.models import Loan, Loss
from loans.services.ledger import enter_in_ledger
from tests.factories import NOW, make_school, new_nonce
from tests.loans.makers import make_loan, make_loss
from tests.pictures import jpeg

pytestmark = pytest.mark.django_db


def test_reported_worked_through_and_given_up(client, director, school):
    loan = make_loan(school=school)
    page = reverse("desk:loss", args=[loan.pk])
    client.force_login(director)
    assert page in client.get(reverse("loans:loan", args=[loan.pk])).text
    today = timezone.localdate().isoformat()
    typed = {"sort": "stolen", "noticed_on": today, "circumstances": "From the bus <b>"}
    shown = client.post(page, typed, follow=True)
    assert "Next: Search the rooms" in " ".join(shown.text.split())
    assert "From the bus &lt;b&gt;" in shown.text
    number = loan.instrument.asset_number
    assert page in client.get(reverse("desk:instrument", args=[number])).text
    assert page in client.get(reverse("desk:today")).text

    assert client.post(page, {"step_search": "2020-01-01"}).status_code == 422
    shown = client.post(page, {"step_search": today, "police_number": "26-00417"}, follow=True)
    assert "Next: Ask the family" in " ".join(shown.text.split())
    loss = Loss.objects.get()
    assert loss.police_number == "26-00417"
    end = reverse("desk:end-loss", args=[loss.pk])
    assert client.post(end, {"outcome": "found"}).status_code == 422
    assert "The case has ended." in client.post(end, {"outcome": "given_up"}, follow=True).text
    assert Loan.objects.get().is_lost
    assert "Given up as lost on" in client.get(reverse("loans:loan", args=[loan.pk])).text
    assert number in client.get(reverse("desk:losses")).text


def test_found_with_the_student_it_leads_to_the_loan_and_to_no_new_case(client, director, school):
    loss = make_loss(loan=make_loan(school=school))
    client.force_login(director)
    answer = client.post(reverse("desk:end-loss", args=[loss.pk]), {"outcome": "student"}, follow=True)
    assert answer.redirect_chain[-1][0] == reverse("loans:loan", args=[loss.loan_id])
    assert "The case has ended." in answer.text
    assert "Lost or stolen?" not in answer.text


def test_the_charge_is_shown_with_its_arithmetic_and_entered(client, director, school):
    loss = make_loss(make_loan(school=school))
    page = reverse("desk:charge-loss", args=[loss.pk])
    client.force_login(director)
    shown = client.get(page)
    assert "by straight line" in shown.text
    assert "Nobody is charged before" not in shown.text
    refused = client.post(page, {"amount": "99999"})
    assert refused.status_code == 422
    assert "At most" in refused.text
    assert "The family is charged." in client.post(page, {"amount": "12.50"}, follow=True).text
    end, case = reverse("desk:end-loss", args=[loss.pk]), reverse("desk:loss", args=[loss.loan_id])
    assert "$12.50 was charged." in client.get(end).text
    account = reverse("loans:account", args=[loss.loan.student_id])
    assert account in client.get(case).text
    enter_in_ledger(
        student=loss.loan.student, sort="payment", amount=Decimal("12.50"), on=timezone.localdate(),
        reckoning={"by": "cash"}, actor=director, at=timezone.now(), nonce=new_nonce(),
    )  # fmt: skip
    client.post(end, {"outcome": "student", "found_on": timezone.localdate().isoformat()})
    shown = client.get(case).text
    assert "Credited because it was found" in shown
    assert shown.count("$12.50") == 2
    owed = client.get(account).text
    assert "Paid $12.50 ahead" in " ".join(owed.split())
    assert owed.count(case) == 2, "from the charge and from what was taken off"

    search = {"sort": "lost", "noticed_on": timezone.localdate().isoformat()}
    assert "Charged" not in client.post(case, search, follow=True).text, "lost again: not charged for that yet"
    charge = reverse("desk:charge-loss", args=[Loss.objects.open().get().pk])
    assert charge in client.get(case).text
    early = client.get(charge).text
    assert "Nobody is charged before" in early
    assert 'name="amount"' not in early, "what would be refused is not asked"


def test_the_file_is_read_back_and_names_nobody(client, auditor, director, school):
    loan = make_loan(school=school)
    keep_photo(instrument=loan.instrument, photo=clean_photo(jpeg()), actor=director, at=NOW)
    loss = make_loss(loan, sort="stolen")
    client.force_login(auditor)
    with pypdfium2.PdfDocument(client.get(reverse("desk:claim-file", args=[loss.pk])).content) as paper:
        words = " ".join(paper[0].get_textpage().get_text_range().split())
    assert loan.instrument.serial in words
    assert "by straight line" in words
    assert loan.student.name not in words
    assert Event.objects.get(act="exported").after == {"what": "claim file", "form": "pdf", "rows": 1}


def test_an_auditor_reads_a_case_and_changes_none(client, auditor, school):
    loss = make_loss(make_loan(school=school))
    page = reverse("desk:loss", args=[loss.loan_id])
    client.force_login(auditor)
    assert client.head(page).status_code == 200
    shown = client.get(page)
    assert "Search until" in shown.text
    assert "loss-form" not in shown.text
    assert client.post(page, {}).status_code == 404
    foreign = make_loss(make_loan(school=make_school()))
    assert not Loss.objects.exclude(pk__in=[loss.pk, foreign.pk]).exists()
