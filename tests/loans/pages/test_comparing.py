"""Findings in words, and the comparison as a page shows it."""

from __future__ import annotations

from datetime import timedelta

from inventory.catalog.load import catalog
from inventory.catalog.schema import Cause, Severity
from loans.pages.comparing import (
    CAUSE_WORDS,
    CHANGE_WORDS,
    COUNT_WORDS,
    accessories_compared,
    change_summary,
    comparison_of,
)
from loans.rules.compare import Change, Compared
from loans.services import return_loan
from tests.factories import NOW
from tests.loans.makers import make_loan, make_return_walk

LIGHT, MODERATE, SEVERE = Severity


def compared(change: Change, *, before=None, after=None, cause=None, part="bell_bow", fault="dent_small") -> Compared:
    return Compared(part=part, place="", fault=fault, before=before, after=after, change=change, cause=cause)


def test_the_summary_counts_each_kind_of_change():
    rows = [
        compared(Change.NEW, after=SEVERE),
        compared(Change.WORSE, before=LIGHT, after=SEVERE),
        compared(Change.SAME, before=LIGHT, after=LIGHT),
    ]
    assert change_summary(rows) == "1 new, 1 worse, 1 the same."
    assert change_summary([]) == change_summary(rows[2:]) == "Same as at hand-out."


def test_every_change_and_cause_has_its_words():
    assert set(CHANGE_WORDS) == set(COUNT_WORDS) == set(Change)
    assert set(CAUSE_WORDS) == set(Cause)


def test_a_row_shows_severities_then_and_now_and_its_cause_if_it_is_new():
    page = comparison_of(catalog().kinds["trumpet"], [compared(Change.NEW, after=MODERATE, cause=Cause.DAMAGE)])
    [row] = page["rows"]
    assert (row["before"], row["after"], row["change"], row["words"], row["cause"]) == (
        "—",
        "moderate",
        "new",
        "New",
        "usually damage",
    )


def test_nothing_changed_without_a_difference():
    page = comparison_of(catalog().kinds["trumpet"], [compared(Change.SAME, before=LIGHT, after=LIGHT)])
    assert page["rows"][0]["cause"] == ""
    assert page["sentence"] == "Same as at hand-out."


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
