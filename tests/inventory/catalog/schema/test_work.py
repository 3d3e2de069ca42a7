"""What the catalog says of work holds together."""

from __future__ import annotations

from inventory.catalog.load import catalog

TRADE = catalog()
RUNGS = [rung for ladder in TRADE.ladders.values() for rung in ladder.rungs]


def test_low_likely_and_high_minutes_stand_in_that_order():
    wrong = [one.code for one in (*TRADE.methods.values(), *RUNGS) if list(one.minutes) != sorted(one.minutes)]
    assert wrong == []


def test_chances_are_chances():
    assert [rung.code for rung in RUNGS if not (0 < rung.p <= 1 and 0 <= rung.harm < 1)] == []


def test_what_forbids_something_says_why():
    assert [guard.fault for guard in TRADE.guards if not (guard.forbids and guard.because)] == []


def test_the_middle_price_lies_between_low_and_high():
    needs = [need for method in TRADE.methods.values() for need in method.parts]
    assert [one.code for one in (*needs, *TRADE.consumables.values()) if not one.low <= one.middle <= one.high] == []
