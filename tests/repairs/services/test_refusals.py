"""Refused means refused: no job begins, no order goes, and no paid step, until a newer decision holds."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.exceptions import RefusedError
from repairs.models import Attempt, Job, ShopOrder, StepClock
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs import do_step, start_step
from repairs.services.orders import approve_order, note_estimate, order_work, send_to_shop
from tests.factories import NOW, TODAY, make_bench, new_nonce
from tests.repairs.makers import LEAKING_CORK, STUCK, read_cautions
from tests.repairs.makers import make_job as make_school_job
from tests.repairs.money_makers import (
    make_decision,
    make_job,
    make_order,
    make_refusal,
    make_stuck_instrument,
)

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=2)


@pytest.mark.parametrize("answer", ["repair_here", "send_out"])
def test_a_refusal_says_who_when_and_why_and_starts_nothing(answer):
    refused = make_refusal(answer)
    with pytest.raises(RefusedError, match=r"\$180\. .* on Sep 14: Buy one\. .*Decide again") as told:
        make_job(instrument=refused.instrument)
    assert str(refused.settled_by) in str(told.value)
    assert str(refused.decided_by) in str(told.value)
    order = make_order(instrument=refused.instrument, expected_high_amount=Decimal(60))
    with pytest.raises(RefusedError, match="Buy one"):
        send_to_shop(order=order, actor=order.asked_by, at=LATER)
    assert not Job.objects.exists()
    assert ShopOrder.objects.get().sent_at is None


def test_what_was_to_be_given_up_and_is_not_stops_no_work():
    assert make_job(instrument=make_refusal("retire").instrument).pk


def test_a_newer_decision_that_holds_lifts_it():
    instrument = make_refusal().instrument
    decision = make_decision(instrument, bench=make_bench(school=instrument.school), at=LATER)
    assert Job.objects.get().decision == decision


def test_an_order_approved_later_by_its_own_cost_goes():
    refused = make_refusal("send_out")
    order = make_order(instrument=refused.instrument)
    note_estimate(order=order, amount=Decimal(170), on=TODAY, actor=order.asked_by, at=NOW)
    approve_order(order=order, amount=Decimal(170), actor=refused.settled_by, at=LATER)
    assert send_to_shop(order=order, actor=order.asked_by, at=LATER).sent_at


def test_the_approval_of_a_trip_orders_no_work():
    refused = make_refusal("send_out")
    order = make_order(
        instrument=refused.instrument, is_estimate_only=True, trip_amount=Decimal(60), expected_high_amount=None
    )  # fmt: skip
    approve_order(order=order, amount=Decimal(60), actor=refused.settled_by, at=LATER)
    send_to_shop(order=order, actor=order.asked_by, at=LATER)
    note_estimate(order=order, amount=Decimal(100), on=TODAY, actor=order.asked_by, at=LATER)
    with pytest.raises(RefusedError, match="Buy one"):
        order_work(order=order, actor=order.asked_by, at=LATER)
    assert ShopOrder.objects.get().is_estimate_only


def test_a_trip_for_an_estimate_goes():
    order = make_order(instrument=make_refusal("send_out").instrument)
    ShopOrder.objects.update(is_estimate_only=True, trip_amount=0)
    order = send_to_shop(order=order, actor=order.asked_by, at=LATER)
    note_estimate(order=order, amount=Decimal(60), on=TODAY, actor=order.asked_by, at=LATER)
    with pytest.raises(RefusedError, match="Buy one"):  # the work itself was not approved
        order_work(order=order, actor=order.asked_by, at=LATER)
    assert ShopOrder.objects.get().is_estimate_only


@pytest.fixture
def paid(school, tech):
    """A job whose step takes a cork from the drawer."""
    job = make_school_job(school=school, actor=tech, findings=[LEAKING_CORK])
    read_cautions(job, actor=tech, at=NOW)
    return job


@pytest.fixture
def by_hand(school, tech):
    """A job whose first step takes nothing but a hand."""
    job = make_school_job(school=school, actor=tech, findings=[STUCK])
    read_cautions(job, actor=tech, at=NOW)
    return job


def first_step(job):
    return plan_for_job(job).steps[0]


def start(job):
    return start_step(job=job, step_key=first_step(job).key, actor=job.opened_by, at=LATER)


def do(job, outcome="done"):
    key = first_step(job).key
    return do_step(job=job, step_key=key, outcome=outcome, actor=job.opened_by, at=LATER, nonce=new_nonce())


def test_in_an_open_job_no_part_is_put_in(paid):
    make_refusal(instrument=paid.instrument)
    for begin in (start, do):
        with pytest.raises(RefusedError, match="Buy one"):
            begin(paid)
    assert not Attempt.objects.exists()
    assert not StepClock.objects.exists()
    assert do(paid, "skipped").attempt.pk  # that it was left out is told


def test_hand_work_goes_on_within_the_limit(by_hand, monkeypatch):
    make_refusal(instrument=by_hand.instrument)
    assert start(by_hand).pk
    assert do(by_hand, "still_stuck").attempt.pk
    monkeypatch.setattr("repairs.selectors.decisions.approval_limit", lambda: Decimal(1))
    with pytest.raises(RefusedError, match="Buy one"):
        start(by_hand)


def test_what_was_begun_before_the_refusal_is_told(paid):
    start_step(job=paid, step_key=first_step(paid).key, actor=paid.opened_by, at=NOW)
    make_refusal(instrument=paid.instrument)
    assert do(paid).attempt.pk


def test_without_a_decision_nothing_is_stopped(paid):
    assert do(paid).attempt.pk
    assert make_order(instrument=make_stuck_instrument()).decision is None
