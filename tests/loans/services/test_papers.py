"""The end of a signed paper."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.files.storage import default_storage

from core.models import Event
from core.photos import clean_scan
from loans.exceptions import AgreementRefusedError
from loans.models import Agreement, Loan
from loans.services import delete_papers
from loans.tasks import print_agreement
from tests.factories import NOW
from tests.loans.makers import ink, make_agreement, make_loan

LATER = NOW + timedelta(days=1)


def ended(loan: Loan) -> Loan:
    Loan.objects.filter(pk=loan.pk).update(returned_at=NOW)
    return Loan.objects.get(pk=loan.pk)


def test_files_go_hashes_stay_and_the_log_says_so(director, django_capture_on_commit_callbacks):
    loan = ended(make_loan())
    kept = print_agreement(agreement=make_agreement(loan), actor=director, at=NOW)
    names = [kept.pdf.name, kept.student_signature.name, kept.guardian_signature.name]
    with django_capture_on_commit_callbacks(execute=True):
        assert delete_papers(agreement=kept, actor=None, at=LATER) == 3
    gone = Agreement.objects.get()
    assert (gone.pdf.name, gone.guardian_signer, gone.pdf_sha256) == ("", "", kept.pdf_sha256)
    assert not any(default_storage.exists(name) for name in names)
    event = Event.objects.get(act="papers_deleted")
    assert event.after == {"files": 3, "pdf_sha256": kept.pdf_sha256, "scan_sha256": ""}
    assert event.thread == loan.instrument.thread


def test_of_a_scan_the_hash_stays_too(director, django_capture_on_commit_callbacks):
    agreement = make_agreement(ended(make_loan()), signed="paper", scan=clean_scan(ink()))
    assert len(agreement.scan_sha256) == 64
    with django_capture_on_commit_callbacks(execute=True):
        delete_papers(agreement=agreement, actor=director, at=LATER)
    gone = Agreement.objects.get()
    assert (gone.scan.name, gone.scan_sha256) == ("", agreement.scan_sha256)
    assert not default_storage.exists(agreement.scan.name)


def test_a_second_time_changes_nothing(director):
    agreement = make_agreement(ended(make_loan()))
    delete_papers(agreement=agreement, actor=director, at=LATER)
    assert delete_papers(agreement=agreement, actor=director, at=LATER) == 0
    assert Event.objects.filter(act="papers_deleted").count() == 1


def test_while_it_is_out_the_paper_stays(director):
    agreement = make_agreement()
    with pytest.raises(AgreementRefusedError, match="still out"):
        delete_papers(agreement=agreement, actor=director, at=LATER)
    assert Agreement.objects.get().student_signature
    assert not Event.objects.filter(act="papers_deleted").exists()
