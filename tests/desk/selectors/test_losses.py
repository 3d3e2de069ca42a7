"""Open cases by what is due first, and what an insurer is given."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from desk.selectors.losses import claim_file, open_cases
from loans.models import Loan
from tests.factories import NOW, TODAY, make_director
from tests.loans.makers import make_agreement, make_loan, make_loss


def test_cases_of_ones_own_schools_come_by_the_day_of_the_next_step(school, director):
    later = make_loss(make_loan(school=school), noticed_on=TODAY + timedelta(days=2), at=NOW + timedelta(days=3))
    first = make_loss(make_loan(school=school))
    make_loss(make_loan())
    cases = open_cases(director, today=TODAY)
    assert [case.loss for case in cases] == [first, later]
    assert [case.next.step.code for case in cases] == ["search", "search"]
    assert open_cases(make_director(school), today=TODAY, most=1) == cases[:1]


def test_the_value_is_that_of_the_day_from_the_price_that_was_agreed(db):
    loan = make_loan()
    make_agreement(loan)
    Loan.objects.update(replacement_amount=Decimal(1000))
    loan.refresh_from_db()
    file = claim_file(make_loss(loan))
    assert "a new one costs $1,000" in file.value.words
    assert file.value.playing_amount <= 1000
    assert file.agreement.loan == loan
    assert file.inspections[0].purpose == "hand_out"
