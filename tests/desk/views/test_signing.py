"""Out without a signature: lent so, said so, signed for on its page."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from loans.models import Agreement, Loan
from tests.factories import make_ready_instrument, make_student
from tests.loans.makers import ink, make_agreement, make_lending_form, make_loan


@pytest.fixture
def loan(school, director):
    return make_loan(school=school, actor=director)


def sign_page(loan):
    return reverse("desk:sign", args=[loan.pk])


def test_lent_with_the_paper_to_come_it_says_that_the_signature_is_pending(client, director, school):
    client.force_login(director)
    instrument = make_ready_instrument(school=school)
    typed = make_lending_form(make_student(school=school), signed="later", student_signature="", guardian_signer="")
    page = client.post(reverse("desk:lend-this", args=[instrument.asset_number]), typed, follow=True).text
    assert "The agreement is still to be signed." in page
    assert "Signature pending" in page
    assert sign_page(Loan.objects.get()) in page


def test_the_photo_of_the_paper_is_added_on_its_page(client, director, loan):
    client.force_login(director)
    page = client.get(sign_page(loan)).text
    assert "later" not in page.split("<form", 2)[-1].split("paper-later")[0]
    sent = {"terms": 1, "signed": "paper", "scan": SimpleUploadedFile("paper.png", ink())}
    assert "signed and filed" in client.post(sign_page(loan), sent, follow=True).text
    agreement = Agreement.objects.get()
    assert (agreement.loan, agreement.signed) == (loan, "paper")


def test_without_a_file_it_says_what_is_missing_and_writes_nothing(client, director, loan):
    client.force_login(director)
    answer = client.post(sign_page(loan), {"terms": 1, "signed": "paper"})
    assert answer.status_code == 422
    assert "Add a scan or photo" in answer.text
    assert not Agreement.objects.exists()


def test_what_is_signed_already_leads_to_the_loan(client, director, loan):
    make_agreement(loan)
    client.force_login(director)
    assert client.get(sign_page(loan)).url == reverse("loans:loan", args=[loan.pk])
