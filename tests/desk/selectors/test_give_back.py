"""What a scan means at give-back, and what waits to be inspected."""

from __future__ import annotations

from datetime import timedelta

from desk.selectors.give_back import back_today, scanned, to_inspect
from inventory.models import Tag
from loans.models import Loan
from loans.selectors.giving_back import expected_back, progress
from loans.services import return_loan
from loans.services.renewing import renew_loan
from tests.factories import NOW, TODAY, make_director, make_instrument, make_ready_instrument, new_nonce
from tests.loans.makers import all_back, make_loan, make_return_walk, make_returned


def test_a_scan_is_a_loan_to_take_back_or_says_why_not(school, director):
    loan = make_loan(instrument=make_ready_instrument(school=school, asset_number="TV-0019"), actor=director)
    assert scanned(director, "tv19").loan == loan
    back = make_returned(school=school, actor=director)
    assert scanned(director, back.instrument.asset_number).last == back
    foreign = make_loan()
    assert scanned(director, foreign.instrument.asset_number).instrument is None
    tag = Tag.objects.live().filter(instrument=foreign.instrument).first()
    assert scanned(director, tag.token).owner == foreign.school
    for number in ("TV-0119", "TV-0219"):
        make_instrument(school=school, asset_number=number)
    assert {one.asset_number for one in scanned(director, "V-0").several} == {"TV-0019", "TV-0119", "TV-0219"}


def test_the_pile_is_in_the_order_it_came_and_without_what_is_inspected(school, director):
    second = make_returned(school=school, actor=director, at=NOW + timedelta(days=2))
    first = make_returned(school=school, actor=director, at=NOW + timedelta(days=1))
    make_return_walk(make_returned(school=school, actor=director, at=NOW + timedelta(days=1)))
    make_returned()
    assert list(to_inspect(director)) == [first, second]
    assert list(back_today(director, now=NOW + timedelta(days=2))) == [second]
    assert not back_today(make_director(school), now=NOW + timedelta(days=2))


def test_a_renewed_term_did_not_come_back(school, director):
    loan = make_loan(school=school, actor=director)
    at = NOW + timedelta(days=2)
    new = renew_loan(loan=loan, due_on=TODAY + timedelta(days=300), actor=director, at=at, nonce=new_nonce())
    assert not back_today(director, now=at)
    assert progress(expected_back(director, due_on=new.due_on, today=TODAY)) == (0, 1)
    back_at = at + timedelta(days=1)
    return_loan(loan=new, taken_back=None, accessories_back=all_back(new), actor=director, at=back_at)
    assert list(to_inspect(director)) == [new]
    walk = make_return_walk(new, at=back_at)
    assert [Loan.objects.get(pk=one.pk).taken_back for one in (loan, new)] == [None, walk]
