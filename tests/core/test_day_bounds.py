"""Days that are believed, to the day."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from core.day_bounds import ACQUIRED, DUE, PROMISED, RECORDED, WARRANTY, DayBounds
from core.exceptions import RefusedError
from tests.factories import TODAY

A_DAY = timedelta(days=1)


@pytest.mark.parametrize(
    ("bounds", "first", "last"),
    [
        (ACQUIRED, TODAY - 150 * timedelta(days=366), TODAY),
        (RECORDED, TODAY - timedelta(days=1098), TODAY),
        (DUE, TODAY, TODAY + timedelta(days=1098)),
        (PROMISED, TODAY, TODAY + timedelta(days=732)),
        (WARRANTY, TODAY - timedelta(days=1098), TODAY + timedelta(days=1830)),
    ],
)
def test_the_first_and_the_last_day_are_believed_and_the_next_ones_are_not(bounds, first, last):
    assert [bounds.refusal(day, today=TODAY) for day in (first, TODAY, last, None)] == [""] * 4
    assert all(bounds.refusal(day, today=TODAY) for day in (first - A_DAY, last + A_DAY))


@pytest.mark.parametrize(
    ("bounds", "day", "words"),
    [
        (RECORDED, date(2031, 1, 1), "That day is in the future."),
        (RECORDED, date(2020, 9, 14), "That is more than 3 years ago. Check the year."),
        (PROMISED, date(2020, 9, 14), "That day is in the past."),
        (PROMISED, date(2035, 1, 1), "That is more than 2 years away. Check the year."),
    ],
)
def test_what_is_wrong_with_a_day_is_said(bounds, day, words):
    assert bounds.refusal(day, today=TODAY) == words


def test_a_day_that_is_not_believed_is_refused_under_its_label():
    class MineError(RefusedError):
        pass

    DayBounds().check(TODAY, today=TODAY)
    with pytest.raises(MineError, match=r"^Thanked on: That day is in the future\.$"):
        DayBounds().check(TODAY + A_DAY, today=TODAY, label="Thanked on", refusal=MineError)
