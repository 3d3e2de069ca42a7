"""What the signed paper says, and how long it is kept."""

from __future__ import annotations

from datetime import timedelta

from inventory.models import District
from loans.selectors import expired_papers, hand_out_facts, papers_to_keep
from loans.services import return_loan
from tests.factories import NOW, TODAY
from tests.loans.makers import make_agreement, make_loan, make_return_walk


def test_what_the_paper_takes_from_the_hand_out_inspection(school, director):
    facts = hand_out_facts(make_agreement(make_loan(school=school, actor=director)))
    assert (facts.findings, facts.photos) == ((), 0)
    assert facts.drawn is not None


def test_papers_are_kept_for_the_districts_years_after_the_return_and_for_ever_where_none_are_named(school, director):
    loan = make_loan(school=school, actor=director)
    agreement = make_agreement(loan)
    back = NOW + timedelta(days=3)
    return_loan(loan=loan, taken_back=make_return_walk(loan, at=back), accessories_back={}, actor=director, at=back)
    ten_years_on = TODAY + timedelta(days=3653)
    assert list(expired_papers(today=ten_years_on)) == []
    District.objects.update(keep_papers_years=4)
    [(held, until)] = papers_to_keep(loan.student, at=back)
    assert (held, until.year) == (agreement, TODAY.year + 4)
    assert list(expired_papers(today=until - timedelta(days=1))) == []
    assert list(expired_papers(today=until)) == [(agreement, until)]


def test_a_paper_whose_horn_is_still_out_is_past_no_time(school, director):
    make_agreement(make_loan(school=school, actor=director))
    District.objects.update(keep_papers_years=1)
    assert list(expired_papers(today=TODAY + timedelta(days=3653))) == []
