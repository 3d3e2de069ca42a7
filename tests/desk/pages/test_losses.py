"""A case in words; the file for a claim names nobody."""

from __future__ import annotations

from datetime import timedelta

from desk.pages.losses import case_line, claim_page, done_in_order, next_words
from desk.selectors.losses import claim_file, open_cases
from loans.rules.losses import Next, Then
from loans.services.losses import change_loss
from tests.factories import NOW, TODAY
from tests.loans.makers import make_loan, make_loss


def test_what_is_late_says_so(school, director):
    make_loss(make_loan(school=school))
    (case,) = open_cases(director, today=TODAY + timedelta(days=1))
    line = case_line(case, today=TODAY + timedelta(days=1))
    assert (line["sort"], line["is_late"], line["by"]) == ("Lost", True, "by Sep 14, 2026")
    assert line["next"].startswith("Search the rooms")


def test_after_the_steps_a_sentence_says_what_comes():
    assert next_words(Next(None, Then.SEARCH, TODAY)) == "Keep searching until Sep 14, 2026"
    assert next_words(Next(None, Then.CHARGE, TODAY)) == "Decide whether the family is charged"
    assert next_words(Next(None, Then.END, TODAY)) == "End the case: found, or given up"


def test_the_file_has_numbers_and_days_and_no_name(db):
    loss = make_loss(sort="stolen")
    at = NOW + timedelta(days=3)
    typed = {"police_agency": "County sheriff", "police_number": "26-00417"}
    loss = change_loss(loss=loss, steps={"police": TODAY}, typed=typed, actor=loss.actor, at=at)
    assert [day for _, day in done_in_order(loss)] == [TODAY]
    page = claim_page(claim_file(loss))
    said = str({name: value for name, value in page.items() if name != "photos"})
    for there in ("26-00417", "County sheriff", loss.loan.instrument.serial, "by straight line"):
        assert there in said
    assert loss.loan.student.name not in said
