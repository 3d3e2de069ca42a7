"""Two people at once in one decision, and in one shop order that failed: one has the last word, the other is told."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from core.exceptions import RefusedError
from inventory.models import Instrument, Role
from repairs.models import Job, ShopOrder, WorthDecision
from repairs.services.orders import return_on_warranty
from repairs.services.worth import decide_worth, settle_decision
from tests.contests import at_once, contests, went_well, wrong_after
from tests.factories import NOW, make_bench, make_director, make_user, new_nonce
from tests.repairs.money_makers import make_decision, make_returned_order, make_stuck_instrument, make_worth

pytestmark = pytest.mark.django_db(transaction=True)


def decide_and_settle() -> None:
    """A tech decides again while a director answers the decision before: one of the two has the last word, told so."""
    instrument = make_stuck_instrument()
    tech = make_user(Role.TECH, school=instrument.school)
    director, bench = make_director(instrument.school), make_bench(school=instrument.school)
    said: dict[str, Any] = {"instrument": instrument, "is_student_waiting": False, "actor": tech, "at": NOW}
    asked = decide_worth(answer="repair_here", worth=make_worth(cost=180.0), nonce=new_nonce(), **said)
    answers = at_once(
        lambda: settle_decision(decision=asked, is_approved=False, note="Buy one", actor=director, at=NOW),
        lambda: decide_worth(answer="repair_here", worth=make_worth(), nonce=new_nonce(), bench=bench, **said),
    )
    assert not isinstance(answers[1], RefusedError)  # a new decision holds, whatever became of the one before
    assert Job.objects.get(instrument=instrument).decision == answers[1]
    assert (WorthDecision.objects.get(pk=asked.pk).settled_at is None) == isinstance(answers[0], RefusedError)


def approve_and_refuse() -> None:
    """Two who may approve answer at once: one answer counts, the other person is told."""
    instrument = make_stuck_instrument()
    asked = make_decision(instrument, "retire", because="Rotten")
    one, other = make_director(instrument.school), make_director(instrument.school)
    answers = at_once(
        lambda: settle_decision(decision=asked, is_approved=True, actor=one, at=NOW),
        lambda: settle_decision(decision=asked, is_approved=False, note="Not yet", actor=other, at=NOW),
    )
    assert len(went_well(answers)) == 1
    now = WorthDecision.objects.get(pk=asked.pk)
    assert Instrument.objects.get(pk=instrument.pk).is_retired is now.is_approved


def two_warranty_returns() -> None:
    order = make_returned_order()
    at = NOW + timedelta(days=8)
    answers = at_once(*[lambda: return_on_warranty(order=order, nonce=new_nonce(), actor=order.asked_by, at=at)] * 2)
    assert len(went_well(answers)) == 1
    assert ShopOrder.objects.filter(warranty_of=order).count() == 1


@contests(decide_and_settle, approve_and_refuse, two_warranty_returns)
def test_two_at_once_meet_no_fault_and_leave_nothing_to_verify(contest, rounds):
    assert wrong_after(contest, rounds) == []
