from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.utils.translation import override

from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity
from inventory.rules.facts import FindingFact
from repairs.profiles import bench_profile
from repairs.rules.facts import AttemptFact, Outcome
from repairs.rules.plan import Plan, Savings, plan_work
from repairs.rules.words import (
    WHOLE,
    clock_time,
    days_span,
    duration,
    finding_words,
    in_ten,
    left_words,
    lower_first,
    next_rung_words,
    outcome_words,
    place_words,
    saved_words,
    waiting,
)


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(0, "0 min"), (0.3, "under 1 min"), (5, "5 min"), (59.6, "1 h"), (60, "1 h"), (80, "1 h 20 min"), (1500, "25 h")],
)
def test_minutes_are_said_in_hours_and_minutes(minutes, words):
    assert duration(minutes) == words


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (0, "none"),
        (0.2, "12 min"),
        (12, "12 h"),
        (47.9, "47 h 54 min"),
        (48, "2 days"),
        (50, "2.1 days"),
        (72, "3 days"),
        (60, "2.5 days"),
    ],
)
def test_a_long_wait_is_said_in_days(hours, words):
    assert waiting(hours) == words


@pytest.mark.parametrize(
    ("moment", "words"),
    [
        (datetime(2026, 9, 14, 15, 40, tzinfo=UTC), "3:40 pm"),
        (datetime(2026, 9, 14, 0, 5, tzinfo=UTC), "12:05 am"),
        (datetime(2026, 9, 15, 12, 0, tzinfo=UTC), "Tue 12:00 pm"),
        (datetime(2026, 10, 2, 9, 5, tzinfo=UTC), "Oct 2, 9:05 am"),
    ],
)
def test_another_day_is_named(moment, words):
    assert clock_time(moment, today=date(2026, 9, 14)) == words


def test_another_day_is_named_in_the_readers_language():
    """Weekdays and hours as Spanish writes them: the orthography of the Spanish academies."""
    with override("es"):
        assert clock_time(datetime(2026, 9, 15, 12, 0, tzinfo=UTC), today=date(2026, 9, 14)) == "mar 12:00 p. m."


def test_a_place_is_said_with_its_part():
    trumpet = catalog().kinds["trumpet"]
    assert place_words(trumpet, part="third_valve_slide") == "Third valve slide"
    assert place_words(trumpet, part="piston", place="2") == "Pistons, valve 2"
    assert place_words(trumpet, part="") == WHOLE
    assert place_words(trumpet, part="gone_part", place="x") == "Gone part x"


def test_a_finding_is_said_whole():
    finding = FindingFact(part="third_valve_slide", fault="slide_seized", severity=Severity.SEVERE)
    said = finding_words(catalog(), catalog().kinds["trumpet"], finding)
    assert said == f"Third valve slide: {catalog().fault_name('slide_seized')}, severe"
    assert catalog().fault_name("gone_fault") == "gone fault"


@pytest.mark.parametrize(
    ("low", "high", "said"), [(1, 1, "about 1 day"), (3, 3, "about 3 days"), (1, 11, "1 to 11 days")]
)
def test_days_that_are_the_same_are_said_once(low, high, said):
    assert days_span(low, high) == said


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0.7, "7 times in 10"), (0.1, "1 time in 10"), (0.03, "less than 1 time in 10"), (0.97, "nearly always")],
)
def test_a_chance_is_said_in_ten(chance, words):
    assert in_ten(chance) == words


SLIDE = FindingFact(part="third_valve_slide", fault="slide_seized", severity=Severity.LIGHT)


def plan(*findings: FindingFact, attempts: Sequence[AttemptFact] = ()) -> Plan:
    trade = catalog()
    bench = bench_profile("school", catalog=trade)
    return plan_work(kind=trade.kinds["trumpet"], catalog=trade, findings=findings, bench=bench, attempts=attempts)


def saved(minutes: float, amount: str) -> Savings:
    return Savings(minutes=minutes, amount=Decimal(amount), rungs=("a",))


@pytest.mark.parametrize(
    ("minutes", "amount", "words"),
    [
        (80, "34.40", "saves 1 h 20 min and $34"),
        (80, "0.30", "saves 1 h 20 min"),
        (0.2, "12.50", "saves $13"),
        (0, "0", ""),
    ],
)
def test_what_was_saved_is_said_in_time_and_whole_dollars(minutes, amount, words):
    assert saved_words(saved(minutes, amount)) == words


def test_freed_early_says_what_that_saves():
    words = outcome_words(Outcome.FREED, plan=plan(), ladder_key="", saved=saved(80, "34"))
    assert words.startswith("Freed early: saves 1 h 20 min and $34.")


def test_still_stuck_names_the_next_rung_or_the_shop():
    before = plan(SLIDE)
    assert next_rung_words(before, ladder_key=before.ladders[0].key).startswith("Next try: ")
    assert "shop" in outcome_words(Outcome.STILL_STUCK, plan=plan(), ladder_key="x", saved=None)


def test_every_outcome_has_its_words():
    said = {one: outcome_words(one, plan=plan(SLIDE), ladder_key="", saved=None) for one in Outcome}
    assert len(set(said.values())) == len(Outcome)


def test_damage_is_named():
    words = outcome_words(Outcome.DAMAGED, plan=plan(SLIDE), ladder_key="", saved=None, damage="Third slide: dent")
    assert words.startswith("Noted. Third slide: dent joins the plan.")


def test_what_is_left_is_said_in_time_and_steps():
    assert "left, 2 steps." in left_words(plan(SLIDE))  # the play test counts, as on the page
    assert left_words(plan()) == "Only the play test is left."


def test_an_abbreviation_keeps_its_capitals_inside_a_sentence():
    assert lower_first("Hot water") == "hot water"
    assert lower_first("CA glue") == "CA glue"


def test_the_next_try_is_named_after_those_that_failed():
    before = plan(SLIDE)
    tries = [one.step_key for one in before.ladders[0].ahead[:2]]
    failed = [AttemptFact(key, *key_parts(key), Outcome.STILL_STUCK) for key in tries]
    after = plan(SLIDE, attempts=failed)
    next_try = after.ladders[0].ahead[0]
    assert after.ladders[0].rungs[0].step_key == tries[0]
    assert next_rung_words(after, ladder_key=after.ladders[0].key) == f"Next try: {lower_first(next_try.entry.name)}."


def key_parts(key: str) -> tuple[str, str, str, str]:
    method, part, place, rung = key.split(":")
    return method, rung, part, place
