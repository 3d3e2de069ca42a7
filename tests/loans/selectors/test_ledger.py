"""What the check of the ledger finds once somebody got past the services. All else: tests/loans/services/test_ledger.py."""

from __future__ import annotations

from decimal import Decimal

import pytest

from loans.guard import LEDGER_GUARD
from loans.models import LedgerEntry, Posting
from loans.selectors.ledger import ledger_differences
from loans.services.ledger import reverse_entry
from tests.factories import NOW, make_director, make_student, new_nonce
from tests.loans.makers import make_loan
from tests.loans.services.test_ledger import enter


def broken(statement: str, *values: object) -> list[str]:
    """What is found when somebody took the triggers down, wrote this, and put them up again."""
    from django.db import connection

    with LEDGER_GUARD.down(), connection.cursor() as cursor:
        cursor.execute(statement, values)
    return list(ledger_differences())


@pytest.fixture
def fee(db) -> LedgerEntry:
    return enter(make_student(), "fee", "35")


def test_an_amount_changed_past_the_services_is_found(fee):
    assert broken("UPDATE loans_posting SET cents = 3000 WHERE cents > 0") == [
        f"entry {fee.pk} of the ledger does not balance: -5.00 is left",
        f"entry {fee.pk} of the ledger does not move what a fee of 35.00 moves",
    ]


def test_both_postings_changed_are_found(fee):
    found = broken("UPDATE loans_posting SET cents = cents * 2")
    assert found == [f"entry {fee.pk} of the ledger does not move what a fee of 35.00 moves"]


def test_an_entry_without_postings_is_found(fee):
    assert broken("DELETE FROM loans_posting") == [
        f"entry {fee.pk} of the ledger does not move what a fee of 35.00 moves"
    ]


def test_a_reversal_of_another_students_entry_is_found(fee):
    by = {"actor": make_director(fee.school), "at": NOW, "nonce": new_nonce()}
    back, other = reverse_entry(entry=fee, because="Slip", **by), make_student()
    found = broken("UPDATE loans_ledgerentry SET student_id = %s WHERE id = %s", other.pk, back.pk)
    assert found == [f"entry {back.pk} of the ledger reverses another student's"]


def test_an_entry_about_another_students_loan_is_found(fee):
    found = broken("UPDATE loans_ledgerentry SET loan_id = %s", make_loan().pk)
    assert found == [f"entry {fee.pk} of the ledger is about another student's loan"]


def test_the_check_asks_the_same_of_one_entry_and_of_many(fee, django_assert_num_queries):
    with django_assert_num_queries(4):
        assert list(ledger_differences()) == []
    for _ in range(5):
        enter(fee.student, "payment", Decimal(1))
    with django_assert_num_queries(4):
        assert list(ledger_differences()) == []
    assert Posting.objects.count() == 12
