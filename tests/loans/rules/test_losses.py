"""Steps in their order, what comes after them, and what is taken off. Worked by hand; common practice, no source."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from loans.rules.losses import Kind, Then, next_of, steps_of, taken_off

NOTICED = date(2026, 10, 5)
UNTIL = date(2026, 10, 19)


def coming(kind: Kind, done: set[str], *, is_charged: bool = False, today: date = UNTIL):
    return next_of(
        kind=kind,
        noticed_on=NOTICED,
        done=dict.fromkeys(done, NOTICED),
        search_until=UNTIL,
        is_charged=is_charged,
        today=today,
    )


def test_police_and_resale_are_steps_of_a_theft_alone():
    assert {step.code for step in steps_of(Kind.STOLEN)} - {step.code for step in steps_of(Kind.LOST)} == {
        "police",
        "resale",
    }


def test_the_first_step_not_done_is_next_by_its_day():
    first = coming(Kind.STOLEN, set())
    assert (first.step.code, first.by) == ("search", NOTICED)
    third = coming(Kind.STOLEN, {"search", "family", "resale"})
    assert (third.step.code, third.by) == ("police", NOTICED + timedelta(days=1))
    by = {"search": 0, "family": 1, "police": 1, "office": 2, "schools": 3, "resale": 7}  # common practice, no source
    assert {step.code: step.days for step in steps_of(Kind.STOLEN)} == by


def test_after_the_steps_the_search_goes_on_then_the_charge_then_the_end():
    done = {step.code for step in steps_of(Kind.LOST)}
    assert coming(Kind.LOST, done, today=UNTIL - timedelta(days=1)).then is Then.SEARCH
    assert coming(Kind.LOST, done).then is Then.CHARGE
    assert coming(Kind.LOST, done, is_charged=True).then is Then.END


@pytest.mark.parametrize(
    ("days", "repair", "off"),
    [
        (0, "0", "300"),
        (90, "0", "300"),
        (91, "0", "0"),
        (10, "120", "180"),
        (10, "500", "0"),  # as damaged as it was worth: all of the charge stays
    ],
)
def test_what_is_taken_off(days, repair, off):
    assert taken_off(
        charged=Decimal(300), charged_on=NOTICED, found_on=NOTICED + timedelta(days=days), full_days=90,
        repair_cost=Decimal(repair), value=Decimal(300),
    ) == Decimal(off)  # fmt: skip
