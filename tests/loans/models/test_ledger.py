"""What the rows of the ledger refuse by themselves."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from loans.models import LedgerEntry, Posting
from tests.factories import NOW, TODAY, make_director, make_student, new_nonce
from tests.loans.services.test_ledger import enter


def add(**fields):
    student = make_student()
    row = {"school": student.school, "student": student, "amount": 1, "on": TODAY, "at": NOW, "nonce": new_nonce()}
    return LedgerEntry.objects.create(**(row | {"actor": make_director(student.school)} | fields))


@pytest.mark.django_db
@pytest.mark.parametrize(
    "fields", [{"sort": "waiver"}, {"sort": "reversal"}, {"sort": "fee", "amount": 0}, {"sort": "payment", "amount": 0}]
)
def test_a_row_that_cannot_be_is_refused(fields):
    with pytest.raises(IntegrityError), transaction.atomic():
        add(**fields)


@pytest.mark.django_db
def test_an_entry_posts_once_to_an_account_and_never_nothing():
    entry = enter(make_student(), "fee", "35")
    for account, cents in (("family", 1), ("cash", 0)):
        with pytest.raises(IntegrityError), transaction.atomic():
            Posting.objects.create(entry=entry, account=account, cents=cents)
