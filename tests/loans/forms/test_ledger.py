"""Each sort of entry asks for what it needs; an old link still shows a list."""

from __future__ import annotations

import pytest

from inventory.models import School
from loans.forms.ledger import BalanceFilterForm, EntryForm, JournalForm
from loans.models import LedgerEntry, Student
from loans.rules.ledger import Sort
from loans.selectors.ledger import approvers_of, with_balances
from tests.factories import make_director, make_student
from tests.loans.makers import make_entry

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("sort", "fields"),
    [
        (Sort.FEE, ["amount", "note", "on", "nonce"]),
        (Sort.PAYMENT, ["amount", "by", "note", "on", "nonce"]),
        (Sort.REFUND, ["amount", "by", "note", "on", "nonce"]),
        (Sort.WAIVER, ["amount", "approved_by", "password", "through", "on", "nonce"]),
    ],
)
def test_what_is_asked_for(sort, fields):
    director = make_director()
    form = EntryForm(sort=sort, approvers=approvers_of(1, but_for=director), asker=director, year=2027)
    assert list(form.fields) == fields


def test_what_nobody_knows_is_ignored():
    owes = make_entry().student
    paid = make_entry(student=make_student(), sort="payment").student
    rows = with_balances(Student.objects.all())
    assert [row.pk for row in BalanceFilterForm({"state": "x"}).narrow(rows)] == [owes.pk]
    assert [row.pk for row in BalanceFilterForm({"state": "ahead"}).narrow(rows)] == [paid.pk]
    found = JournalForm({"sort": "x", "first": "never", "last": "2020-01-01"}, schools=School.objects.all())
    assert list(found.narrow(LedgerEntry.objects.all())) == []
