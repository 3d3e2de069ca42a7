"""The chart of play tests: where points stand, what the scale says, what is said in words."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.picture.trend import PAGES, TrendTest, places_of, said_of, scale_of, trend

START = date(2024, 9, 2)


def make_tests(*means: float | None, days: int = 100, **told) -> list[TrendTest]:
    return [TrendTest(on=START + timedelta(days=days * i), mean=mean, **told) for i, mean in enumerate(means)]


def test_a_sharper_test_stands_higher_and_a_later_one_further_right():
    first, second, third = trend(tests=make_tests(0, 10, -10), width="phone").points
    assert second.y < first.y < third.y
    assert first.x < second.x < third.x


def test_zero_is_always_on_the_scale():
    rules = trend(tests=make_tests(31, 35, 38), width="wide").cents
    assert [rule.words for rule in rules if rule.is_zero] == ["0"]


def test_an_instrument_that_stands_still_does_not_look_as_if_it_wandered():
    scale = scale_of(make_tests(0.2, -0.1, 0.3))
    assert scale[-1] - scale[0] >= 20


def test_the_calendar_decides_how_far_apart_two_tests_stand():
    xs = places_of([START, START + timedelta(days=100), START + timedelta(days=300)], left=0, right=300)
    assert xs == (0, 100, 300)


def test_two_tests_of_one_day_can_be_told_apart():
    xs = places_of([START, START, START + timedelta(days=700)], left=0, right=300)
    assert xs[1] - xs[0] >= 15


def test_a_test_without_measurement_has_no_point_but_its_failed_notes():
    drawing = trend(tests=[*make_tests(1, 2), TrendTest(on=START + timedelta(900), mean=None, failed=3)], width="phone")
    assert drawing.points[-1].y is None
    assert drawing.points[-1].said.endswith("nothing measured, 3 notes failed")


def test_a_single_test_stands_in_the_middle_with_its_month():
    drawing = trend(tests=make_tests(4), width="phone")
    assert len(drawing.points) == 1
    assert [rule.words for rule in drawing.days] == ["Sep 2024"]
    assert drawing.line is None


def test_the_line_goes_from_the_first_to_the_last_measured_test():
    drawing = trend(tests=make_tests(0, None, -20), width="wide", fitted=(0.0, -20.0))
    first, last = drawing.points[0], drawing.points[-1]
    assert drawing.line == (first.x, first.y, last.x, last.y)


def test_everything_the_chart_shows_of_a_test_is_also_said():
    test = TrendTest(on=START, mean=-12.4, low=-20, high=3, tuning=-11, failed=1)
    assert said_of(test) == ("Sep 2, 2024, −12 cents on average, notes from −20 to +3, tuning note −11, 1 note failed")


def test_without_a_test_there_is_no_chart():
    with pytest.raises(ValueError, match="no test"):
        trend(tests=[], width="phone")


@given(
    means=st.lists(st.floats(min_value=-900, max_value=900), min_size=1, max_size=60),
    days=st.integers(min_value=0, max_value=400),
    width=st.sampled_from(sorted(PAGES)),
)
def test_every_point_lies_on_the_page_in_the_order_of_time(means, days, width):
    drawing = trend(tests=make_tests(*means, days=days), width=width)
    xs = [point.x for point in drawing.points]
    assert xs == sorted(xs)
    assert all(drawing.left <= x <= drawing.width for x in xs)
    assert all(0 <= point.y <= drawing.floor for point in drawing.points)
    assert all(left.at + 40 <= right.at for left, right in zip(drawing.days, drawing.days[1:], strict=False))
    assert len(drawing.cents) <= 12
