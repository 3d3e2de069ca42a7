from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.facts import Owed
from inventory.rules.readiness import (
    Clears,
    Readiness,
    ReadinessFacts,
    aged_reason,
    ages_out_on,
    readiness,
)

READY = ReadinessFacts(verdict="plays", whereabouts="in_store")
DAY = date(2026, 9, 14)


def codes(facts: ReadinessFacts) -> list[str]:
    return [reason.code for reason in readiness(facts).reasons]


def test_nothing_in_the_way_means_it_may_go_out():
    answer = readiness(READY)
    assert answer.readiness is Readiness.MAY_GO_OUT
    assert answer.reasons == ()


@pytest.mark.parametrize(
    ("change", "code", "clears"),
    [
        ({"whereabouts": "with_student"}, "with_student", Clears.TAKE_BACK),
        ({"whereabouts": "on_bench"}, "on_bench", Clears.FINISH_JOB),
        ({"whereabouts": "at_shop"}, "at_shop", Clears.FINISH_JOB),
        ({"whereabouts": "not_found"}, "not_found", Clears.FIND),
        ({"whereabouts": "gone"}, "gone", Clears.NOTHING),
        ({"is_parts_instrument": True}, "parts_horn", Clears.NOTHING),
        ({"is_retired": True}, "retired", Clears.DECIDE),
        ({"verdict": "not_inspected"}, "not_inspected", Clears.INSPECT),
        ({"verdict": "does_not_play", "stopping": ["No note sounds."]}, "does_not_play", Clears.REPAIR),
        ({"is_return_unseen": True}, "return_inspection", Clears.INSPECT),
        ({"is_return_unseen": True, "verdict": "not_inspected"}, "return_inspection", Clears.INSPECT),
        ({"failed_play_test": "C4"}, "play_test", Clears.PLAY_TEST),
        ({"never_issue": ["A brace is broken."]}, "never_issue", Clears.REPAIR),
        ({"owed": {Owed.HYGIENE}}, "hygiene", Clears.CLEAN),
        ({"missing_essentials": ["case"]}, "accessories", Clears.COUNT_ACCESSORIES),
        ({"open_reports": 1}, "reports", Clears.ANSWER_REPORT),
    ],
)
def test_each_fact_alone_keeps_it_in_and_names_what_clears_it(change, code, clears):
    answer = readiness(replace(READY, **change))
    assert answer.readiness is Readiness.STAYS_IN
    assert [(reason.code, reason.clears) for reason in answer.reasons] == [(code, clears)]
    assert answer.reasons[0].text.endswith(".")


def test_limits_let_it_go_out_with_them_named():
    answer = readiness(replace(READY, verdict="plays_with_limits", limits=["Low C is lost.", "B4 is off."]))
    assert answer.readiness is Readiness.WITH_LIMITS
    assert [reason.text for reason in answer.reasons] == ["Low C is lost.", "B4 is off."]


def test_a_missing_extra_is_named_and_keeps_nothing_in():
    answer = readiness(replace(READY, missing_extras=["valve oil", "snake"]))
    assert answer.readiness is Readiness.MAY_GO_OUT
    (reason,) = answer.reasons
    assert (reason.text, reason.clears, reason.stays_in) == (
        "Without valve oil, snake.",
        Clears.COUNT_ACCESSORIES,
        False,
    )


def test_a_missing_extra_beside_limits_is_a_limit_too_and_no_reason_to_stay_in():
    answer = readiness(replace(READY, verdict="plays_with_limits", limits=["B4 is off."], missing_extras=["snake"]))
    assert answer.readiness is Readiness.WITH_LIMITS
    assert [(reason.code, reason.stays_in) for reason in answer.reasons] == [("limits", False), ("extras", False)]


def test_an_unknown_history_is_named_and_keeps_nothing_in():
    answer = readiness(replace(READY, owed={Owed.FULL}))
    assert answer.readiness is Readiness.MAY_GO_OUT
    assert [(reason.code, reason.clears) for reason in answer.reasons] == [("full_cleaning", Clears.CLEAN)]


def test_what_is_owed_is_said_once():
    (reason,) = readiness(replace(READY, owed=set(Owed))).reasons
    assert (reason.code, reason.stays_in) == ("hygiene", True)
    assert "not clean yet" in reason.text
    assert "due a full cleaning" in reason.text


def test_reports_are_counted_in_words():
    assert readiness(replace(READY, open_reports=1)).reasons[0].text.startswith("A problem was reported")
    assert readiness(replace(READY, open_reports=3)).reasons[0].text.startswith("3 problems were reported")


def test_what_keeps_it_in_stands_before_what_only_limits_it():
    facts = replace(READY, verdict="plays_with_limits", limits=["B4 is off."], open_reports=1, missing_extras=["snake"])
    assert codes(facts) == ["reports", "limits", "extras"]
    assert codes(replace(READY, verdict="does_not_play")) == ["does_not_play"]


def test_a_failed_play_test_alone_is_not_told_twice():
    assert codes(replace(READY, verdict="does_not_play", failed_play_test="C4")) == ["play_test"]


FACTS = st.builds(
    ReadinessFacts,
    verdict=st.sampled_from(["plays", "plays_with_limits", "does_not_play", "not_inspected"]),
    whereabouts=st.sampled_from(["in_store", "with_student", "on_bench", "at_shop", "not_found", "gone"]),
    stopping=st.lists(st.just("It hisses."), max_size=2),
    limits=st.lists(st.just("Low C is lost."), max_size=2),
    never_issue=st.lists(st.just("A brace is broken."), max_size=1),
    open_reports=st.integers(0, 3),
    missing_essentials=st.lists(st.just("case"), max_size=1),
    missing_extras=st.lists(st.just("snake"), max_size=1),
    owed=st.sets(st.sampled_from(Owed)),
    failed_play_test=st.sampled_from(["", "C4"]),
    is_return_unseen=st.booleans(),
)


@given(FACTS)
def test_staying_in_always_has_a_reason_and_going_out_none_that_forbids(facts):
    answer = readiness(facts)
    forbids = [reason for reason in answer.reasons if reason.stays_in]
    assert bool(forbids) == (answer.readiness is Readiness.STAYS_IN)


@given(FACTS)
def test_a_further_trouble_never_makes_it_readier(facts):
    order = [Readiness.STAYS_IN, Readiness.WITH_LIMITS, Readiness.MAY_GO_OUT]
    worse = replace(facts, open_reports=facts.open_reports + 1, owed={Owed.HYGIENE})
    assert order.index(readiness(worse).readiness) <= order.index(readiness(facts).readiness)


def test_an_inspection_speaks_through_its_last_day():
    last = ages_out_on(inspected_on=DAY, valid_days=365)
    assert last == DAY + timedelta(days=365)
    assert aged_reason(ready_until=last, today=last) is None
    assert aged_reason(ready_until=last, today=last + timedelta(days=1)).clears is Clears.INSPECT
    assert ages_out_on(inspected_on=None, valid_days=365) is None
    assert aged_reason(ready_until=None, today=DAY) is None


@pytest.mark.parametrize(
    ("fields", "code", "clears"),
    [
        ({"is_parts_instrument": True}, "parts_horn", Clears.NOTHING),
        ({"is_back_from_shop": True}, "back_from_shop", Clears.PLAY_TEST),
    ],
)
def test_a_parts_instrument_and_one_back_from_a_shop_stay_in(fields, code, clears):
    answer = readiness(ReadinessFacts(verdict="plays", whereabouts="in_store", **fields))
    assert answer.readiness is Readiness.STAYS_IN
    assert [(reason.code, reason.clears) for reason in answer.reasons] == [(code, clears)]


TRUSTED = replace(READY, verdict="not_inspected", trusted_until=DAY)


def test_what_is_taken_on_trust_may_go_out_without_an_inspection_and_says_until_when():
    answer = readiness(TRUSTED)
    assert answer.readiness is Readiness.MAY_GO_OUT
    (reason,) = answer.reasons
    assert (reason.code, reason.clears, reason.stays_in) == ("trusted", Clears.INSPECT, False)
    assert reason.text == "Taken on trust until Sep 14, 2026: nobody has inspected it."


@pytest.mark.parametrize("verdict", ["plays", "plays_with_limits", "does_not_play", "not_inspected"])
@pytest.mark.parametrize("is_trusted", [True, False])
@pytest.mark.parametrize(
    "found",
    [
        {},
        {"stopping": ["Unsafe to handle."]},
        {"never_issue": ["A brace is broken."]},
        {"failed_play_test": "C4"},
        {"owed": {Owed.HYGIENE}},
        {"missing_essentials": ["case"]},
        {"open_reports": 1},
        {"whereabouts": "with_student"},
        {"is_retired": True},
        {"is_back_from_shop": True},
    ],
    ids=lambda found: next(iter(found), "nothing"),
)
def test_trust_stands_in_for_the_inspection_and_for_nothing_else(verdict, is_trusted, found):
    """The truth table: trust changes the answer in one cell, where nobody has inspected it and nothing else is against."""
    facts = replace(READY, verdict=verdict, trusted_until=DAY if is_trusted else None, **found)
    against = [reason.code for reason in readiness(facts).reasons if reason.stays_in]
    expected = bool(found) and not (found.keys() == {"stopping"} and verdict in {"plays", "plays_with_limits"})
    expected |= verdict == "does_not_play" or (verdict == "not_inspected" and not is_trusted)
    assert bool(against) == expected
    if verdict != "not_inspected":
        assert readiness(facts) == readiness(replace(facts, trusted_until=None))


def test_when_trust_is_over_it_stays_in_until_somebody_inspects_it():
    assert aged_reason(ready_until=DAY, today=DAY, is_inspected=False) is None
    reason = aged_reason(ready_until=DAY, today=DAY + timedelta(days=1), is_inspected=False)
    assert reason is not None
    assert (reason.code, reason.clears, reason.stays_in) == ("trust_over", Clears.INSPECT, True)
