from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.pages.trends import trend_page
from inventory.rules.pitch import temperature_cents
from inventory.services.care import record_play_test
from tests.factories import NOW, make_ready_instrument


@pytest.fixture
def instrument(school):
    return make_ready_instrument(school=school)


def measures(*cents: float) -> list[dict[str, object]]:
    names = ("C4", "D4", "E4", "F4", "G4")
    return [
        {"written": name, "cents": one, "spread": 0.0, "tries": 1, "spoke": True}
        for name, one in zip(names, cents, strict=False)
    ]


def record(instrument, tech, *, days: int, **told):
    fields = {"instrument": instrument, "result": "pass", "actor": tech, "at": NOW + timedelta(days=days)} | told
    return record_play_test(**fields)


def test_an_instrument_that_goes_flat_year_by_year_is_flagged_in_words(instrument, tech):
    """Twelve cents a year on a straight line: least squares gives the line itself, whatever the days."""
    for days in (0, 200, 730):
        record(instrument, tech, days=days, measures=measures(*(3 - 12 * days / 365.25,) * 3))
    page = trend_page(instrument)
    assert page["drift"].cents_per_year == pytest.approx(-12)
    assert page["fitted"] == pytest.approx((3.0, 3 - 12 * 730 / 365.25))
    assert page["words"].startswith("It drifts: 24 cents flatter from the first test to the last, 12 a year.")


def test_a_steady_instrument_is_said_to_hold(instrument, tech):
    for days, cents in ((0, 1.0), (200, -1.0), (730, 0.5)):
        record(instrument, tech, days=days, measures=measures(cents, cents))
    assert trend_page(instrument)["words"].startswith("It holds its pitch")


def test_two_tests_are_too_few_and_it_says_how_many_are_wanting(instrument, tech):
    for days in (0, 200):
        record(instrument, tech, days=days, measures=measures(1.0))
    assert "1 more" in trend_page(instrument)["words"]
    assert trend_page(instrument)["fitted"] is None


def test_without_any_measurement_it_says_so(instrument, tech):
    record(instrument, tech, days=0)
    assert trend_page(instrument)["words"].startswith("No test has measured")
    assert [row["mean"] for row in trend_page(instrument)["rows"]] == [None]


def test_cents_are_put_right_to_20_degrees_and_a_test_without_a_thermometer_is_marked(instrument, tech):
    record(instrument, tech, days=0, measures=measures(10, 14), room_celsius=Decimal(26))
    record(instrument, tech, days=1, measures=measures(10, 14))
    warm, unknown = trend_page(instrument)["rows"]
    assert warm["mean"] == pytest.approx(12 - temperature_cents(26))
    assert unknown["mean"] == pytest.approx(12)
    assert trend_page(instrument)["is_marked_uncorrected"]


def test_the_tuning_note_alone_stands_for_a_test_without_measured_notes(instrument, tech):
    record(instrument, tech, days=0, tuning_cents=Decimal(-7))
    assert trend_page(instrument)["rows"][0]["mean"] == -7


def test_range_spread_and_failures_are_read_from_the_test(instrument, tech):
    record(instrument, tech, days=0, result="fail", failed_notes=["D4"], measures=measures(-10, 0, 10))
    row = trend_page(instrument)["rows"][0]
    assert (row["notes"], row["failed"]) == (3, 1)
    assert row["spread"] == pytest.approx(8.165, abs=0.001)  # sqrt(200/3), by hand
    assert (row["point"].low, row["point"].high, row["point"].failed) == (-10, 10, 1)


def test_the_page_costs_one_query_however_many_tests(instrument, tech, django_assert_num_queries):
    for days in range(6):
        record(instrument, tech, days=days, measures=measures(1.0))
    with django_assert_num_queries(1):
        trend_page(instrument)


def test_tests_of_different_notes_are_compared_note_by_note(instrument, tech):
    for days, cents in ((0, (0.0, 30.0, 0.0)), (200, (0.0,)), (730, (0.0, 30.0, 0.0))):
        record(instrument, tech, days=days, measures=measures(*cents))
    page = trend_page(instrument)
    assert page["drift"].change == pytest.approx(0, abs=0.1)
    assert [row["mean"] for row in page["rows"]] == pytest.approx([page["rows"][0]["mean"]] * 3, abs=0.1)
    assert page["is_marked_leveled"]
