"""Which papers wait, and how long each is kept."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.models import District
from loans.selectors.papers import expired_papers, papers_to_keep, waiting_papers
from loans.services import return_loan
from loans.tasks import make_paper
from tests.factories import NOW, TODAY
from tests.loans.makers import make_agreement, make_loan, make_return_walk


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


def test_a_paper_whose_instrument_is_still_out_is_past_no_time(school, director):
    make_agreement(make_loan(school=school, actor=director))
    District.objects.update(keep_papers_years=1)
    assert list(expired_papers(today=TODAY + timedelta(days=3653))) == []


@pytest.mark.django_db
def test_of_several_tasks_for_one_paper_the_one_that_comes_first_is_shown():
    agreement = make_agreement()
    make_paper.using(priority=-10).enqueue(agreement=agreement.pk)
    make_paper.enqueue(agreement=agreement.pk, failures=2)
    assert waiting_papers(agreement)[agreement.pk].failures == 2
