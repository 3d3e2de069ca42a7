"""Findings in words, and what changed while it was away."""

from __future__ import annotations

from datetime import timedelta

from inventory.catalog.load import catalog
from inventory.models import Purpose
from inventory.services.inspecting import (
    answer_safety,
    finish_inspection,
    look_at_rest,
    record_finding,
    start_inspection,
)
from loans.models import Loan
from loans.selectors import (
    accessories_compared,
    comparison,
    finding_in_words,
)
from loans.services import return_loan
from tests.factories import NOW, make_instrument
from tests.loans.makers import make_loan, make_return_walk


def test_a_finding_is_said_in_the_words_of_the_trade(school):
    horn = make_instrument(school=school)
    where, what = finding_in_words(horn, part="third_valve_slide", place="", fault="slide_seized")
    assert where == "Third valve slide"
    assert what == catalog().faults["slide_seized"].name
    assert finding_in_words(horn, part="lost_part", place="x", fault="lost_fault") == ("Lost part x", "lost fault")


def walked_back(loan: Loan, findings: list[tuple[str, str, str]]):
    later = NOW + timedelta(days=90)
    walk = start_inspection(
        instrument=loan.instrument, purpose=Purpose.RETURN, actor=loan.actor, at=later, compared_with=loan.hand_out
    )
    answer_safety(inspection=walk, is_safe=True, actor=loan.actor, at=later)
    for part, fault, severity in findings:
        record_finding(inspection=walk, part=part, fault=fault, severity=severity, actor=loan.actor, at=later)
    look_at_rest(inspection=walk, actor=loan.actor, at=later)
    return finish_inspection(inspection=walk, actor=loan.actor, at=later)


def test_a_new_dent_is_told_from_what_was_there(school, director):
    loan = make_loan(school=school, actor=director)
    walk = walked_back(loan, [("bell_bow", "dent_small", "moderate")])
    told = comparison(instrument=loan.instrument, hand_out=loan.hand_out, taken_back=walk)
    assert told.is_changed
    assert told.sentence == "1 new."
    [row] = told.rows
    assert (row.before, row.after, row.change, row.said) == ("—", "moderate", "new", "New")
    assert row.cause


def test_without_a_return_the_comparison_shows_the_hand_out(school, director):
    loan = make_loan(school=school, actor=director)
    told = comparison(instrument=loan.instrument, hand_out=loan.hand_out, taken_back=None)
    assert not told.is_changed
    assert told.sentence == "As it was handed out."


def test_what_did_not_come_back_is_marked(school, director):
    loan = make_loan(school=school, actor=director)
    assert {row["back"] for row in accessories_compared(loan)} == {None}
    later = NOW + timedelta(days=3)
    closed = return_loan(
        loan=loan,
        taken_back=make_return_walk(loan, at=later),
        accessories_back={"case": 1},
        actor=director,
        at=later,
    )
    short = {row["code"]: row["is_short"] for row in accessories_compared(closed)}
    assert short["mouthpiece"]
    assert not short["case"]
