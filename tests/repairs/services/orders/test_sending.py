"""Sending to a shop, and what waits meanwhile."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from core.exceptions import RefusedError
from inventory.models import Custody, Instrument
from inventory.services.state import move_instrument
from repairs.exceptions import AtShopError
from repairs.models import Job, ShopOrder
from repairs.selectors.orders import order_events
from repairs.selectors.shops import order_differences
from repairs.services.jobs import acknowledge_cautions, give_up_job, prove_job
from repairs.services.orders import (
    bring_back,
    change_promise,
    send_to_shop,
    take_back,
)
from tests.factories import NOW, TODAY, make_ready_instrument, make_user, new_nonce
from tests.repairs.money_makers import make_job, make_order, make_parts_instrument, make_sent_order, where

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(days=9)


def test_sent_it_is_at_the_shop_and_stays_in():
    order = make_sent_order()
    instrument = Instrument.objects.get(pk=order.instrument_id)
    assert (instrument.whereabouts, instrument.readiness) == ("at_shop", "stays_in")
    assert order_differences() == []


def test_from_the_bench_the_job_stays_open_and_gets_it_back():
    job = make_job()
    order = make_sent_order(instrument=job.instrument)
    assert where(order) == "at_shop"
    assert Job.objects.open().get().pk == job.pk == order.job_id
    bring_back(order=order, what_was_done="Done.", actor=order.asked_by, at=LATER)
    assert where(order) == "on_bench"


def test_sending_twice_and_for_a_day_that_is_past_is_refused():
    away, fresh = make_sent_order(), make_order()
    for order, promised in ((away, None), (fresh, TODAY - timedelta(days=1))):
        with pytest.raises(RefusedError):
            send_to_shop(order=order, actor=order.asked_by, at=NOW, promised_on=promised)
    assert where(fresh) == "in_store"


def test_an_instrument_that_moved_meanwhile_is_not_sent():
    order = make_order()
    move_instrument(instrument=order.instrument, expected="in_store", to="not_found", actor=make_user(), at=NOW)
    with pytest.raises(RefusedError, match="Somebody else changed it first"):
        send_to_shop(order=order, actor=order.asked_by, at=NOW)
    assert ShopOrder.objects.get().sent_at is None


def test_an_instrument_at_a_shop_without_an_order_is_told():
    instrument = make_ready_instrument()
    move_instrument(instrument=instrument, expected="in_store", to="at_shop", actor=None, at=NOW)
    assert order_differences() == [f"{instrument.asset_number}: whereabouts is at_shop, but no order is at a shop"]


def test_at_a_shop_a_job_waits_and_refuses_every_act():
    job = make_job()
    order = make_sent_order(instrument=job.instrument)
    for act in (
        lambda: give_up_job(job=job, because="Too dear", actor=job.opened_by, at=LATER),
        lambda: acknowledge_cautions(job=job, step_key="play_test", actor=job.opened_by, at=LATER),
        lambda: prove_job(job=job, result="pass", actor=job.opened_by, at=LATER),
    ):
        with pytest.raises(AtShopError, match="at a shop"):
            act()
    assert Job.objects.open().filter(pk=job.pk).exists()
    bring_back(order=order, what_was_done="Done.", actor=order.asked_by, at=LATER)
    give_up_job(job=job, because="Too dear", actor=job.opened_by, at=LATER)


def test_no_job_begins_on_a_parts_instrument_and_no_shop_is_asked():
    instrument = make_parts_instrument()
    for work in (make_job, make_order):
        with pytest.raises(RefusedError, match="kept for parts"):
            work(instrument=instrument.instrument)
    assert not Job.objects.exists()
    assert not ShopOrder.objects.exists()


def test_it_left_and_came_back_on_days_that_are_said():
    order = make_order()
    send_to_shop(order=order, on=TODAY + timedelta(days=2), actor=order.asked_by, at=LATER)
    order = bring_back(
        order=order, what_was_done="Done", on=TODAY + timedelta(days=5), actor=order.asked_by, at=LATER
    )  # fmt: skip
    assert [timezone.localdate(at) - TODAY for at in (order.sent_at, order.returned_at)] == [
        timedelta(days=2),
        timedelta(days=5),
    ]
    spans = (
        Custody.objects.filter(instrument=order.instrument)
        .order_by("since")
        .values_list("whereabouts", "since", "until")
    )
    assert [where for where, _, _ in spans] == ["in_store", "at_shop", "in_store"]
    assert [since for _, since, _ in spans][1:] == [until for _, _, until in spans][:-1]
    assert order_differences() == []


@pytest.mark.parametrize(("days", "sentence"), [(10, "in the future"), (-1, "was asked on")])
def test_it_is_not_sent_before_it_was_asked_or_tomorrow(days, sentence):
    order = make_order()
    with pytest.raises(RefusedError, match=sentence):
        send_to_shop(order=order, on=TODAY + timedelta(days=days), actor=order.asked_by, at=LATER)


def test_it_is_not_sent_from_where_it_was_not_yet_and_not_back_before_it_left():
    order = make_order()
    move_instrument(instrument=order.instrument, expected="in_store", to="not_found", actor=None, at=NOW)
    later = NOW + timedelta(days=4)
    move_instrument(instrument=order.instrument, expected="not_found", to="in_store", actor=None, at=later)
    with pytest.raises(RefusedError, match="since"):
        send_to_shop(order=order, on=TODAY + timedelta(days=3), actor=order.asked_by, at=LATER)
    send_to_shop(order=order, on=TODAY + timedelta(days=5), actor=order.asked_by, at=LATER)
    with pytest.raises(RefusedError, match="cannot have come back before"):
        bring_back(order=order, what_was_done="x", on=TODAY + timedelta(days=4), actor=order.asked_by, at=LATER)


def test_a_wrong_day_is_corrected_by_taking_it_back():
    order = make_order()
    send_to_shop(order=order, actor=order.asked_by, at=LATER)
    number = order_events(order).last().number
    take_back(order=order, number=number, because="It left before", nonce=new_nonce(), actor=order.asked_by, at=LATER)
    order = send_to_shop(order=order, on=TODAY + timedelta(days=2), actor=order.asked_by, at=LATER)
    assert timezone.localdate(order.sent_at) == TODAY + timedelta(days=2)
    assert order_differences() == []


def test_they_promise_another_day_only_while_it_is_there():
    order, back, unsent = make_sent_order(), make_sent_order(), make_order()
    bring_back(order=back, what_was_done="x", actor=back.asked_by, at=LATER)
    new = TODAY + timedelta(days=20)
    for wrong, on, sentence in ((back, new, "already back"), (unsent, new, "not at the shop"), (order, TODAY, "past")):
        with pytest.raises(RefusedError, match=sentence):
            change_promise(order=wrong, promised_on=on, actor=order.asked_by, at=LATER)
    order = change_promise(order=order, promised_on=new, actor=order.asked_by, at=LATER)
    assert (order.promised_on, order.first_promised_on) == (new, TODAY + timedelta(days=7))


def test_a_refusal_says_who_did_it_and_when():
    order = make_sent_order()
    with pytest.raises(RefusedError, match=order.asked_by.name):
        send_to_shop(order=order, actor=order.asked_by, at=LATER)
