"""What the catalog says of work holds together."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from inventory.catalog.load import catalog
from inventory.catalog.schema import Size

TRADE = catalog()
RUNGS = [rung for ladder in TRADE.ladders.values() for rung in ladder.rungs]


def test_low_likely_and_high_minutes_stand_in_that_order():
    wrong = [one.code for one in (*TRADE.methods.values(), *RUNGS) if list(one.minutes) != sorted(one.minutes)]
    assert wrong == []


def test_a_larger_instrument_never_takes_less_and_its_figures_are_given_once():
    """From memory: no published price list by size was found."""
    for method in TRADE.methods.values():
        sizes = [one.size for one in method.sizes]
        assert len(sizes) == len(set(sizes)), method.code
        taken = [
            (one.minutes, one.wait_h, one.fee or (), tuple(need.price for need in one.parts))
            for one in map(method.at, Size)
        ]
        for smaller, larger in pairwise(taken):
            assert all(a <= b for a, b in zip(smaller, larger, strict=True)), method.code


def test_a_method_at_a_size_has_its_minutes_waits_prices_tools_and_hazards():
    bath = TRADE.methods["soap_bath_brass"]
    tuba = bath.at(Size.VERY_LARGE)
    assert bath.at(Size.SMALL) == replace(bath, sizes=())
    assert (bath.minutes, tuba.minutes) == ((25, 40, 60), (56, 90, 135))
    assert (bath.wait_h, tuba.wait_h) == (2, 6)
    assert tuba.parts[0].middle == 5 * bath.parts[0].middle
    assert ("large_tub" in tuba.tools, "tub" in tuba.tools, "lift" in tuba.hazards) == (True, False, True)
    assert tuba.at(Size.VERY_LARGE) == tuba


def test_a_shop_asks_more_for_a_larger_instrument():
    flush = TRADE.methods["chemical_flush"]
    assert (flush.at(Size.SMALL).fee, flush.at(Size.VERY_LARGE).fee) == ((60, 130), (150, 325))
    assert TRADE.methods["soap_bath_brass"].at(Size.LARGE).fee is None


def test_chances_are_chances():
    assert [rung.code for rung in RUNGS if not (0 < rung.p <= 1 and 0 <= rung.harm < 1)] == []


def test_what_forbids_something_says_why():
    assert [guard.fault for guard in TRADE.guards if not (guard.forbids and guard.because)] == []


def test_the_middle_price_lies_between_low_and_high():
    needs = [need for method in TRADE.methods.values() for need in method.parts]
    assert [one.code for one in (*needs, *TRADE.consumables.values()) if not one.low <= one.middle <= one.high] == []
