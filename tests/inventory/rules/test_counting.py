"""What a sighting means, and when a school is due. Where no source is named: common practice, no source."""

from __future__ import annotations

from datetime import date

import pytest

from inventory.rules.counting import REASONS, Outcome, Reason, next_count, outcome_of, outcome_unseen

HERE, THERE = 1, 2


@pytest.mark.parametrize(
    ("whereabouts", "same_school", "rooms", "expected", "outcome"),
    [
        ("in_store", True, (HERE, HERE), True, Outcome.FOUND),
        ("in_store", True, (HERE, THERE), True, Outcome.OTHER_ROOM),
        ("in_store", True, (HERE, None), True, Outcome.FOUND),
        ("in_store", True, (None, THERE), True, Outcome.FOUND),
        ("in_store", True, (None, THERE), False, Outcome.OTHER_ROOM),
        ("in_store", False, (HERE, THERE), False, Outcome.OTHER_SCHOOL),
        ("with_student", False, (HERE, THERE), False, Outcome.OTHER_SCHOOL),
        ("with_student", True, (HERE, THERE), True, Outcome.CONFIRMED),
        ("on_bench", True, (HERE, THERE), True, Outcome.CONFIRMED),
        ("at_shop", True, (None, HERE), True, Outcome.CONFIRMED),
        ("not_found", True, (HERE, THERE), True, Outcome.FOUND_AGAIN),
        ("gone", True, (HERE, HERE), False, Outcome.GONE_HERE),
        ("gone", False, (HERE, THERE), False, Outcome.GONE_HERE),
        ("not_found", False, (HERE, THERE), False, Outcome.OTHER_SCHOOL),
    ],
)
def test_what_was_seen_is_held_against_the_register(whereabouts, same_school, rooms, expected, outcome):
    register, seen = rooms
    found = outcome_of(
        whereabouts=whereabouts,
        is_same_school=same_school,
        register_room=register,
        seen_room=seen,
        is_expected=expected,
    )
    assert found is outcome


@pytest.mark.parametrize(
    ("expected_at", "still_there", "outcome"),
    [
        ("in_store", True, Outcome.NOT_FOUND),
        ("in_store", False, Outcome.LEFT),
        ("with_student", False, Outcome.BY_RECORD),
        ("on_bench", False, Outcome.BY_RECORD),
        ("not_found", False, Outcome.STILL_MISSING),
    ],
)
def test_only_what_should_be_in_storage_is_missing_when_nobody_saw_it(expected_at, still_there, outcome):
    assert outcome_unseen(expected_at=expected_at, is_still_there=still_there) is outcome


def test_what_agrees_with_the_record_is_no_difference():
    agrees = {Outcome.FOUND, Outcome.CONFIRMED, Outcome.BY_RECORD, Outcome.LEFT, Outcome.STILL_MISSING}
    assert set(Outcome) - set(REASONS) == agrees
    assert {reason for reasons in REASONS.values() for reason in reasons} == set(Reason)


@pytest.mark.parametrize(
    ("last", "today", "overdue", "near"),
    [
        (date(2024, 9, 15), date(2026, 7, 16), False, False),
        (date(2024, 9, 15), date(2026, 7, 17), False, True),
        (date(2024, 9, 15), date(2026, 9, 15), False, True),
        (date(2024, 9, 15), date(2026, 9, 16), True, False),
    ],
)
def test_a_count_is_due_within_two_years(last, today, overdue, near):
    """2 CFR 200.313(d)(2): "at least once every two years"; counted 2024-09-15, due by 2026-09-15."""
    due = next_count(last=last, months=24, notice_days=60, today=today)
    assert (due.on, due.is_overdue, due.is_near) == (date(2026, 9, 15), overdue, near)


def test_a_school_that_was_never_counted_has_no_day_and_is_near():
    due = next_count(last=None, months=24, notice_days=60, today=date(2026, 9, 1))
    assert (due.on, due.is_overdue, due.is_near) == (None, False, True)
