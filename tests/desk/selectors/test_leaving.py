"""What has to be settled before an instrument leaves, and what left. Common practice, no source."""

from __future__ import annotations

from datetime import timedelta

import pytest

from desk.selectors.leaving import (
    disposals_for,
    given_up,
    holds_on,
    offer_of,
    offers_from,
    offers_to,
    retirement_of,
    transfers_seen,
    value_now,
)
from loans.services.losses import end_loss
from repairs.services.worth import settle_decision
from tests.factories import NOW, TODAY, make_instrument, make_ready_instrument
from tests.inventory.leaving_makers import make_disposal, make_transfer
from tests.loans.makers import make_loan, make_loss, make_shared_use
from tests.repairs.makers import make_job
from tests.repairs.money_makers import make_decision, make_order, make_stuck_instrument

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(days=1)


@pytest.mark.parametrize(
    ("code", "make"),
    [
        ("loan", lambda school: make_loan(school=school).instrument),
        ("lost", lambda school: make_loss(make_loan(school=school)).loan.instrument),
        ("job", lambda school: make_job(school=school).instrument),
        ("order", lambda school: make_order(instrument=make_stuck_instrument(school=school)).instrument),
        ("shared", lambda school: make_shared_use(school=school).instrument),
        ("decision", lambda school: make_decision(make_ready_instrument(school=school), "retire", because="Worn")
         .instrument),
    ],
)  # fmt: skip
def test_each_thing_that_is_open_is_named(school, code, make):
    assert [hold.code for hold in holds_on(make(school))] == [code]


def test_nothing_is_held_of_what_is_in_storage_and_it_has_a_value(school):
    horn = make_ready_instrument(school=school)
    assert list(holds_on(horn)) == []
    assert value_now(horn, today=TODAY) > 0
    assert (retirement_of(horn), given_up(horn), offer_of(horn)) == (None, None, None)


def test_a_decision_to_retire_leads_on_once_it_is_approved(school, administrator):
    decision = make_decision(make_ready_instrument(school=school), "retire", because="Worn out")
    assert retirement_of(decision.instrument) is None
    settle_decision(decision=decision, is_approved=True, actor=administrator, at=NOW)
    assert retirement_of(decision.instrument) == decision


def test_the_familys_case_is_known_once_it_is_given_up(school):
    loss = make_loss(make_loan(school=school))
    assert given_up(loss.loan.instrument) is None
    end_loss(loss=loss, outcome="given_up", actor=loss.actor, at=LATER)
    assert given_up(loss.loan.instrument) == loss
    assert list(holds_on(loss.loan.instrument)) == []


def test_what_left_is_narrowed_by_how_where_and_when(school, director, stranger):
    sold, stolen = (
        make_disposal(make_instrument(school=school)),
        make_disposal(make_instrument(school=school), way="stolen", on=TODAY - timedelta(days=40)),
    )
    other = make_disposal()
    assert list(disposals_for(director)) == [sold, stolen]
    assert list(disposals_for(director, way="stolen")) == [stolen]
    assert list(disposals_for(director, first=TODAY)) == [sold]
    assert list(disposals_for(director, last=TODAY - timedelta(days=40))) == [stolen]
    assert list(disposals_for(director, school=other.instrument.school_id)) == []
    assert list(disposals_for(stranger)) == []


def test_an_offer_is_seen_from_both_sides(school, director, stranger, tech):
    offered = make_transfer(make_instrument(school=school), to_school=stranger.staff_roles.get().school)
    assert list(offers_to(stranger)) == list(offers_from(director)) == [offered]
    assert list(offers_to(director)) == list(offers_from(stranger)) == []
    assert [list(transfers_seen(one)) for one in (director, stranger, tech)] == [[offered], [offered], []]
    assert offer_of(offered.instrument) == offered
