"""What went out without a signature is signed for later, once."""

from __future__ import annotations

import pytest
from django.core.management import call_command

from core.photos import clean_scan
from desk.services.lending import lend_at_desk
from desk.services.signing import sign_lent
from loans.exceptions import AgreementRefusedError
from loans.models import Agreement, Loan
from loans.selectors.papers import waiting_papers
from loans.services import Signing
from tests.factories import NOW, TODAY, make_ready_instrument, make_student, new_nonce
from tests.loans.makers import all_counts, content, ink, state_of_rows


@pytest.fixture
def loan(school, director):
    instrument = make_ready_instrument(school=school)
    return lend_at_desk(
        instrument=instrument,
        student=make_student(school=school),
        due_on=TODAY,
        accessories=all_counts(instrument),
        signing=None,
        actor=director,
        at=NOW,
        nonce=new_nonce(),
    )


def test_it_goes_out_before_it_is_signed_for(loan):
    assert Loan.objects.get() == loan
    assert not Agreement.objects.exists()
    assert not waiting_papers()


def test_the_scan_comes_later_and_the_paper_is_made(loan, director):
    scan = clean_scan(ink())
    agreement = sign_lent(loan=loan, signing=Signing(signed="paper", scan=scan), actor=director, at=NOW)
    assert content(agreement.scan) == scan.content
    call_command("work", "--once")
    agreement.refresh_from_db()
    assert agreement.pdf_sha256


def test_it_is_signed_for_once(loan, director):
    signing = Signing(signed="paper", scan=clean_scan(ink()))
    sign_lent(loan=loan, signing=signing, actor=director, at=NOW)
    before = state_of_rows()
    with pytest.raises(AgreementRefusedError, match="already signed"):
        sign_lent(loan=loan, signing=signing, actor=director, at=NOW)
    assert state_of_rows() == before
