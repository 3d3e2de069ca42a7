from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity
from inventory.rules.facts import FindingFact
from repairs.profiles import bench_profile
from repairs.rules.facts import Outcome
from repairs.rules.plan import Plan, Savings, plan_work
from repairs.rules.telling import left_words, lower_first, next_rung_words, outcome_words, saved_words

SLIDE = FindingFact(part="third_valve_slide", fault="slide_seized", severity=Severity.SEVERE)


def plan(*findings: FindingFact) -> Plan:
    trade = catalog()
    bench = bench_profile("school", catalog=trade)
    return plan_work(kind=trade.kinds["trumpet"], catalog=trade, findings=findings, bench=bench)


def saved(minutes: float, amount: str) -> Savings:
    return Savings(minutes=minutes, wait_h=0.0, amount=Decimal(amount), rungs=("a",))


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
    assert next_rung_words(before, ladder_key=before.ladders[0].key).startswith("Next rung: ")
    assert "shop" in outcome_words(Outcome.STILL_STUCK, plan=plan(), ladder_key="x", saved=None)


def test_every_outcome_has_its_words():
    said = {one: outcome_words(one, plan=plan(SLIDE), ladder_key="", saved=None) for one in Outcome}
    assert len(set(said.values())) == len(Outcome)


def test_damage_is_named():
    words = outcome_words(Outcome.DAMAGED, plan=plan(SLIDE), ladder_key="", saved=None, damage="Third slide: dent")
    assert words.startswith("Noted. Third slide: dent joins the plan.")


def test_what_is_left_is_said_in_time_and_steps():
    assert "left, 1 step." in left_words(plan(SLIDE))
    assert left_words(plan()) == "Only the play test is left."


def test_an_abbreviation_keeps_its_capitals_inside_a_sentence():
    assert lower_first("Hot water") == "hot water"
    assert lower_first("CA glue") == "CA glue"
