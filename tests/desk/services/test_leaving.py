"""Leaving, moving and being of another kind, once everything is settled. Common practice, no source."""

from __future__ import annotations

import pytest

from core.exceptions import RefusedError
from core.photos import clean_scan
from desk.services.leaving import change_kind, dispose, offer, settle_offer
from inventory.models import Disposal, Transfer, Whereabouts
from tests.factories import NOW, TODAY, make_ready_instrument, make_school
from tests.inventory.leaving_makers import make_transfer
from tests.loans.makers import make_loan
from tests.pictures import jpeg
from tests.repairs.makers import make_job

pytestmark = pytest.mark.django_db


def leave(instrument, director, administrator, **fields):
    given = {
        "way": "scrapped", "on": TODAY, "because": "Cracked.", "approved_by": administrator, "is_confirmed": True,
        "actor": director, "at": NOW,
    } | fields  # fmt: skip
    return dispose(instrument=instrument, **given)


def test_it_leaves_with_its_value_as_it_is_and_a_paper(school, director, administrator):
    horn = make_ready_instrument(school=school)
    gone = leave(horn, director, administrator, scan=clean_scan(jpeg()))
    assert gone.value_amount > 0
    assert gone.papers.get().title == "Scrapped"


def test_what_is_lent_or_on_a_job_stays_until_that_is_settled(school, director, administrator):
    lent, worked = make_loan(school=school).instrument, make_job(school=school).instrument
    for horn, words in ((lent, "Take it back first"), (worked, "repair job is open")):
        with pytest.raises(RefusedError, match=words):
            leave(horn, director, administrator)
        with pytest.raises(RefusedError, match=words):
            offer(instrument=horn, to_school=make_school(), accessories={}, actor=director, at=NOW)
    with pytest.raises(RefusedError, match="repair job is open"):
        change_kind(instrument=worked, kind_code="cornet", actor=director, at=NOW)
    assert change_kind(instrument=lent, kind_code="cornet", actor=director, at=NOW).kind_code == "cornet"
    assert not Disposal.objects.exists()
    assert not Transfer.objects.exists()


def test_what_is_offered_is_not_sold_meanwhile(school, director, administrator, stranger):
    there = stranger.staff_roles.get().school
    offered = offer(
        instrument=make_ready_instrument(school=school), to_school=there, accessories={}, actor=director, at=NOW
    )
    with pytest.raises(RefusedError, match="Withdraw that first"):
        leave(offered.instrument, director, administrator)
    settle_offer(transfer=offered, is_agreed=True, actor=stranger, at=NOW)
    offered.instrument.refresh_from_db()
    assert (offered.instrument.school, offered.instrument.whereabouts) == (there, Whereabouts.IN_STORE)


def test_what_came_up_since_the_offer_is_settled_first(school, stranger):
    horn = make_ready_instrument(school=school)
    offered = make_transfer(horn, to_school=stranger.staff_roles.get().school)
    make_loan(school=school, instrument=horn)
    with pytest.raises(RefusedError, match="Take it back first"):
        settle_offer(transfer=offered, is_agreed=True, actor=stranger, at=NOW)
    assert not settle_offer(transfer=offered, is_agreed=False, actor=stranger, at=NOW).is_agreed
