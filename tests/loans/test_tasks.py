"""The paper is made after the signature is sure, and a paper that cannot be made undoes nothing."""

from __future__ import annotations

import hashlib

from core.pdf import PdfError
from loans.models import Agreement
from loans.tasks import print_agreement, print_when_signed
from tests.factories import NOW
from tests.loans.makers import content, make_agreement


def test_the_hash_is_that_of_the_kept_file(director):
    kept = print_agreement(agreement=make_agreement(), actor=director, at=NOW)
    assert kept.pdf_sha256 == hashlib.sha256(content(kept.pdf)).hexdigest()


def test_printing_again_gives_the_kept_one(director):
    kept = print_agreement(agreement=make_agreement(), actor=director, at=NOW)
    assert print_agreement(agreement=kept, actor=director, at=NOW).pdf.name == kept.pdf.name


def test_a_paper_that_cannot_be_laid_out_leaves_the_signature(director, monkeypatch, caplog):
    agreement = make_agreement()

    def broken(*_paper):
        raise PdfError("no fonts")

    monkeypatch.setattr("loans.tasks.agreement_pdf", broken)
    print_when_signed(agreement_id=agreement.pk, actor=director, at=NOW)
    assert Agreement.objects.get(pk=agreement.pk).pdf_sha256 == ""
    assert "could not be rendered" in caplog.text
