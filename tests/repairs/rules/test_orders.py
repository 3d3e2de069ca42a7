"""Which act on an order may be taken back. Worked by hand."""

from __future__ import annotations

import pytest

from repairs.rules.orders import COLUMNS, PROMISE, REFUSAL, TAKEN_BACK, Act, act_to_undo, acts_that_hold

pytestmark = pytest.mark.pure


def acts(*names):
    return [Act(number, name) for number, name in enumerate(names, 1)]


def test_the_latest_is_taken_back_first_and_then_the_one_before():
    told = acts("shop_asked", "estimate_given", "sent_to_shop")
    assert act_to_undo(told).number == 3
    told.append(Act(4, TAKEN_BACK, undoes=3))
    assert act_to_undo(told).number == 2
    told.append(Act(5, "sent_to_shop"))
    assert [one.number for one in acts_that_hold(reversed(told))] == [1, 2, 5]
    assert act_to_undo(told).number == 5


def test_asking_is_not_taken_back_and_a_play_test_is_in_nobody_s_way():
    assert act_to_undo(acts("shop_asked")) is None
    assert act_to_undo([]) is None
    assert act_to_undo(acts("shop_asked", "sent_to_shop", "back_from_shop", "shop_work_played")).number == 3


def test_what_nobody_may_take_back_keeps_what_was_before_it():
    assert act_to_undo(acts("shop_asked", "estimate_given", "something_else")) is None


def test_no_two_acts_share_a_column_but_promises_and_refusals_which_others_answer():
    shared = {*PROMISE, *REFUSAL}
    columns = [column for columns in COLUMNS.values() for column in columns if column not in shared]
    assert len(columns) == len(set(columns))
