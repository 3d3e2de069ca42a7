"""What should come back by a day, by class, with what is in."""

from __future__ import annotations

from datetime import timedelta

from loans.selectors.giving_back import by_class, due_days, expected_back, progress
from tests.factories import NOW, TODAY, make_student
from tests.loans.makers import make_ensemble, make_loan, make_period, make_returned, make_seat

DUE = TODAY + timedelta(days=10)


def test_the_list_is_by_the_class_where_the_instrument_is_played(school, director):
    late, early = make_period(school=school, name="Period 6", place=6), make_period(school=school, place=2)
    seated, sits_out = make_student(school=school, name="Ann Ames"), make_student(school=school, name="Bo Bell")
    make_seat(student=seated, place=early, kind_code="flute")
    make_seat(student=seated, place=late, kind_code="trumpet")
    in_band = make_student(school=school, name="Cy Cole")
    make_seat(student=in_band, place=make_ensemble(school=school, name="Jazz band"), kind_code="trumpet")
    about = {"school": school, "actor": director, "due_on": DUE}
    make_loan(student=seated, **about)
    make_returned(student=sits_out, at=NOW + timedelta(days=9), **about)
    make_loan(student=in_band, **about)
    make_loan(school=school, actor=director, due_on=DUE + timedelta(days=60))  # kept over the summer
    make_returned(school=school, actor=director, due_on=DUE + timedelta(days=20), at=NOW)  # long before
    rows = expected_back(director, due_on=DUE, today=DUE)
    lists = by_class(rows)
    assert [(one.name, one.back, len(one.loans)) for one in lists] == [
        ("Period 6", 0, 1),
        ("Jazz band", 0, 1),
        ("", 1, 1),
    ]
    assert progress(rows) == (1, 3)
    assert due_days(director, today=DUE)[0] == (DUE, 3)


def test_other_schools_are_not_expected(director):
    make_loan(due_on=DUE)
    assert not expected_back(director, due_on=DUE, today=DUE)
    assert due_days(director, today=DUE) == []
