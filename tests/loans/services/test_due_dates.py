"""Other due dates: one or many, all or none."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.models import Event
from loans.exceptions import AlreadyReturnedError, DueDateError
from loans.models import Loan
from loans.services import change_due_dates, undo_loan
from tests.factories import NOW, TODAY
from tests.loans.makers import make_loan
from tests.opening import differences

NEXT = TODAY + timedelta(days=365)


@pytest.mark.django_db
def test_many_get_another_date_and_each_says_so():
    loans = [make_loan() for _ in range(3)]
    changed = change_due_dates(loans=loans, due_on=NEXT, actor=loans[0].actor, at=NOW)
    assert {loan.pk for loan in changed} == {loan.pk for loan in loans}
    assert set(Loan.objects.values_list("due_on", flat=True)) == {NEXT}
    assert Event.objects.filter(act="due_changed").count() == 3
    assert change_due_dates(loans=loans, due_on=NEXT, actor=loans[0].actor, at=NOW) == []
    assert Event.objects.filter(act="due_changed").count() == 3
    assert differences()[1] == []


@pytest.mark.django_db
@pytest.mark.parametrize("days", [-1, 4 * 366])
def test_a_day_that_is_not_believed_changes_nothing(days):
    loan = make_loan()
    with pytest.raises(DueDateError):
        change_due_dates(loans=[loan], due_on=TODAY + timedelta(days=days), actor=loan.actor, at=NOW)
    assert Loan.objects.get().due_on == loan.due_on


@pytest.mark.django_db
def test_if_one_came_back_none_is_changed():
    loans = [make_loan(), make_loan()]
    undo_loan(loan=loans[1], left_the_room=False, actor=loans[1].actor, at=NOW)
    with pytest.raises(AlreadyReturnedError, match=loans[1].instrument.asset_number):
        change_due_dates(loans=loans, due_on=NEXT, actor=loans[0].actor, at=NOW)
    assert not Loan.objects.filter(due_on=NEXT).exists()
