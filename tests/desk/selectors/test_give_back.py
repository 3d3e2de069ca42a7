"""What a scan means at give-back, and what waits to be inspected."""

from __future__ import annotations

from datetime import timedelta

from desk.selectors.give_back import back_today, scanned, to_inspect
from inventory.models import Tag
from tests.factories import NOW, make_director, make_instrument, make_ready_instrument
from tests.loans.makers import make_loan, make_return_walk, make_returned


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
