"""Papers and links to sign, as rows."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from loans.models import PaperToSign, SigningLink
from tests.factories import NOW
from tests.loans.makers import make_signing_link


def test_its_code_is_printed_in_groups_and_leads_to_it():
    paper = PaperToSign(code="ABCD2345")
    assert str(paper) == "ABCD-2345"
    assert paper.address("https://horns.example/") == "HTTPS://HORNS.EXAMPLE/P/ABCD2345"
    assert paper.address("") == "ABCD2345"


def test_a_guardian_has_one_open_link_for_a_loan_and_an_ended_one_says_how(db):
    link, _ = make_signing_link()
    assert str(link) == f"signing link {link.pk}"
    for columns in ({}, {"ended_at": NOW}, {"ended": "revoked"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            SigningLink.objects.create(
                loan=link.loan, guardian=link.guardian, terms=link.terms, way="print", made_at=NOW, expires_at=NOW,
                actor=link.actor, **columns,
            )  # fmt: skip
