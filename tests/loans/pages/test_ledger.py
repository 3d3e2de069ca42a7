"""An account line by line, and the rows of the bookkeeper."""

from __future__ import annotations

from decimal import Decimal

import pytest

from loans.models import Posting
from loans.pages.ledger import POSTING_HEADER, account_lines, posting_rows
from loans.selectors.ledger import entries_of, owed_after, owed_by, owed_in_all
from loans.services.ledger import reverse_entry
from tests.factories import NOW, make_director, make_student, new_nonce
from tests.loans.makers import make_entry

pytestmark = pytest.mark.django_db


def test_each_line_has_what_was_owed_after_it():
    student = make_student()
    fee = make_entry(student=student)
    payment = make_entry(student=student, sort="payment", amount="40.50", reckoning={"by": "check"})
    reverse_entry(entry=fee, because="Slip", actor=fee.actor, at=NOW, nonce=new_nonce())
    lines = account_lines(entries_of(student))
    assert [line["words"] for line in lines] == ["Fee", "Payment, check", "Reversed: Fee"]
    assert [line["owed"] for line in lines] == [Decimal(35), Decimal("-5.50"), Decimal("-40.50")]
    assert [line["may_reverse"] for line in lines] == [False, True, False]
    assert lines[-1]["owed"] == owed_by(student)
    assert owed_after(payment) == Decimal("-5.50")


def test_debits_and_credits_are_the_same_and_who_opted_out_is_named_to_lenders_alone():
    student = make_student(name="Ada Berg", is_private=True)
    make_entry(student=student, note="Ada's fee")
    rows = Posting.objects.order_by("pk")
    told, named = (list(posting_rows(rows, lending=frozenset(keys))) for keys in ((), (student.school_id,)))
    assert len(told[0]) == len(POSTING_HEADER)
    assert sum(row[5] or 0 for row in told) == sum(row[6] or 0 for row in told) == 35
    assert "Ada" not in str(told)
    assert "Berg, Ada" in str(named)


def test_what_all_owe_is_of_the_own_schools_and_leaves_out_what_was_paid_ahead():
    student = make_student()
    make_entry(student=student)
    make_entry(student=make_student(school=student.school), sort="payment", amount=10)
    make_entry(student=make_student())
    assert owed_in_all(make_director(student.school)) == {"count": 1, "amount": 35}
