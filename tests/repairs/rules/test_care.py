"""When routine care comes due. The intervals are common practice, no source; month ends follow the calendar."""

from __future__ import annotations

from datetime import date

import pytest

from inventory.catalog.load import catalog
from repairs.rules.care import (
    CareFacts,
    care_dates,
    care_minutes,
    intervals_for,
    together_minutes,
)

TRADE = catalog()


def make_facts(kind: str = "trumpet", **overrides) -> CareFacts:
    fields = {"key": "1", "kind": TRADE.kinds[kind], "registered_on": date(2025, 1, 31)} | overrides
    return CareFacts(**fields)


def due_on(facts: CareFacts, *, is_idle: bool = False) -> dict[str, date]:
    days = {one.code: one.idle_on if is_idle else one.much_on for one in care_dates(facts, catalog=TRADE)}
    return {code: day for code, day in days.items() if day}


def codes(kind: str, **options: str) -> set[str]:
    return {one.code for one in intervals_for(kind=TRADE.kinds[kind], options=options, catalog=TRADE)}


def test_each_kind_asks_for_its_own_care():
    assert {"bath", "piston_oil", "slide_grease", "water_key_cork"} <= codes("trumpet")
    assert not {"pads", "key_oil", "rotor_oil", "hand_slide"} & codes("trumpet")
    assert {"hand_slide", "bath"} <= codes("trombone")
    assert "rotor_oil" in codes("horn_double")
    assert "piston_oil" not in codes("horn_double")
    assert {"pads", "key_oil", "corks"} <= codes("clarinet_bb")
    assert "bath" not in codes("clarinet_bb")
    assert codes("marching_drum") >= {"marching_head"}
    assert "snare_head" not in codes("marching_drum")
    assert {"strings", "rehair"} <= codes("violin")


def test_a_bore_is_oiled_in_wood_alone():
    assert "bore_oil" in codes("clarinet_bb", body="wood")
    assert "bore_oil" not in codes("clarinet_bb", body="plastic")


def test_nothing_woodwind_is_ever_bathed():
    """Woodwinds never go under water (common practice)."""
    for kind in TRADE.kinds.values():
        if kind.family != "brass":
            assert "bath" not in codes(kind.code)


def test_what_was_never_noted_counts_from_registering():
    assert due_on(make_facts())["bath"] == date(2026, 1, 31)
    assert {one.last_on for one in care_dates(make_facts(), catalog=TRADE)} == {None}


def test_care_comes_round_from_the_last_time():
    facts = make_facts(done={"bath": date(2026, 6, 10)})
    assert due_on(facts)["bath"] == date(2027, 6, 10)
    assert due_on(facts)["piston_oil"] == date(2025, 5, 31)


def test_an_instrument_that_lies_in_store_has_longer():
    used, idle = due_on(make_facts()), due_on(make_facts(), is_idle=True)
    assert used["bath"] < idle["bath"]
    assert "water_key_cork" in used
    assert "water_key_cork" not in idle  # not due in store at all


def test_doing_it_in_a_row_spares_the_set_up_all_but_once():
    bath = TRADE.intervals["bath"]
    each = care_minutes(bath, catalog=TRADE)
    low, likely, high = TRADE.methods["soap_bath_brass"].minutes
    assert each == pytest.approx((low + 4 * likely + high) / 6)
    found = together_minutes(bath, count=5, catalog=TRADE)
    assert found.apart == pytest.approx(5 * each)
    assert found.saved == pytest.approx(4 * float(catalog().settings["set_up_minutes"]))
    assert together_minutes(bath, count=1, catalog=TRADE).saved == 0
    assert together_minutes(bath, count=0, catalog=TRADE).saved == 0


def test_a_tubas_bath_takes_longer_than_a_trumpets():
    bath = TRADE.intervals["bath"]
    tuba = care_minutes(bath, catalog=TRADE.sized(TRADE.kinds["tuba"].size))
    assert tuba > 2 * care_minutes(bath, catalog=TRADE.sized(TRADE.kinds["trumpet"].size))


def test_every_interval_of_the_catalog_is_asked_for_by_some_kind_and_takes_time():
    asked = {one.code for kind in TRADE.kinds.values() for one in
             intervals_for(kind=kind, options={"body": "wood"}, catalog=TRADE)}  # fmt: skip
    assert asked == set(TRADE.intervals)
    assert all(care_minutes(one, catalog=TRADE) > 0 for one in TRADE.intervals.values())
