"""What a count differs in, and which school is due."""

from __future__ import annotations

import pytest

from inventory.rules.counting import Outcome, Reason
from inventory.selectors.counts import count_dues, differences_of
from inventory.services.counts import end_counting, sign_count
from inventory.services.state import move_instrument
from tests.factories import NOW, TODAY
from tests.inventory.count_makers import LATER, see

pytestmark = pytest.mark.django_db


def test_a_school_is_due_two_years_after_it_was_counted_whole(count, fleet, director, tech):
    """2 CFR 200.313(d)(2): at least once every two years."""
    (line,) = count_dues(director, today=TODAY)
    assert (line.last, line.open_count) == (None, count)
    for row in fleet:
        see(count, row, tech)
    sign_count(
        count=end_counting(count=count, actor=director, at=LATER), settled={}, second=tech, actor=director, at=LATER
    )
    (line,) = count_dues(director, today=TODAY)
    assert (line.last, line.due.on, line.open_count) == (TODAY, TODAY.replace(year=TODAY.year + 2), None)


def test_what_was_lost_on_loan_is_settled_with_its_loan(count, fleet, director, tech):
    move_instrument(
        instrument=fleet[0], expected="in_store", to="not_found", actor=director, at=NOW, reference="loan:5"
    )
    see(count, fleet[0], tech)
    done = end_counting(count=count, actor=director, at=LATER)
    assert {one.outcome: one.reasons for one in differences_of(done)}[Outcome.FOUND_AGAIN] == (Reason.LOAN_TO_SETTLE,)


def test_what_was_lent_during_the_count_is_no_difference(count, fleet, director, tech):
    for row in fleet[1:]:
        see(count, row, tech)
    move_instrument(instrument=fleet[0], expected="in_store", to="with_student", actor=director, at=LATER)
    done = end_counting(count=count, actor=director, at=LATER)
    assert differences_of(done) == []
