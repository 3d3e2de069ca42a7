"""Orders at outside shops, step by step; each refusal writes nothing."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from core.exceptions import RefusedError, UsedFormError
from core.models import Event
from inventory.models import Finding, Instrument, Role, Whereabouts
from inventory.services.care import record_play_test
from inventory.services.state import move_instrument
from repairs.exceptions import ApprovalNeededError, AtShopError
from repairs.models import Job, Shop, ShopOrder
from repairs.selectors.shops import approval_limit, order_differences
from repairs.services.jobs import acknowledge_cautions, give_up_job, prove_job
from repairs.services.shops import (
    add_shop,
    approve_order,
    bring_back,
    call_off,
    change_shop,
    note_estimate,
    note_invoice,
    send_to_shop,
    tie_play_test,
)
from tests.factories import NOW, TODAY, make_ready_instrument, make_user
from tests.repairs.money_makers import (
    finding_of,
    make_job,
    make_order,
    make_parts_instrument,
    make_shop,
    make_stuck_instrument,
)

pytestmark = pytest.mark.django_db
D = Decimal
LATER = NOW + timedelta(days=9)


def where(order: ShopOrder) -> str:
    return Instrument.objects.get(pk=order.instrument_id).whereabouts


def make_away(**fields) -> ShopOrder:
    order = make_order(**fields)
    return send_to_shop(order=order, actor=order.asked_by, at=NOW, promised_on=TODAY + timedelta(days=7))


def make_back(**fields) -> ShopOrder:
    order = make_away(**fields)
    return bring_back(order=order, what_was_done="Slide freed.", actor=order.asked_by, at=LATER)


def test_a_shop_is_on_the_list_once_whatever_the_case():
    make_shop(name="Brook Street Brass")
    for name in ("brook street brass", " "):
        with pytest.raises(RefusedError):
            add_shop(name=name, actor=make_user(), at=NOW)
    assert Shop.objects.count() == 1


def test_a_shop_is_corrected_but_not_into_another():
    shop, other = make_shop(), make_shop()
    fields = {"contact": "555", "address": "", "note": "", "is_used": False, "actor": make_user(), "at": NOW}
    assert not change_shop(shop=shop, name="New name", **fields).is_used
    with pytest.raises(RefusedError, match="on the list"):
        change_shop(shop=shop, name=other.name, **fields)


def test_asking_leaves_the_instrument_where_it_is_and_the_same_form_asks_once():
    order = make_order()
    again = make_order(shop=order.shop, instrument=order.instrument, nonce=order.nonce)
    assert again.pk == order.pk
    assert where(order) == "in_store"


def test_a_form_of_one_instrument_asks_nothing_about_another():
    order = make_order()
    with pytest.raises(UsedFormError):
        make_order(nonce=order.nonce)
    assert ShopOrder.objects.count() == 1


def test_what_cannot_be_asked_is_refused():
    stuck, other, lost = make_stuck_instrument(), make_stuck_instrument(), make_ready_instrument()
    move_instrument(instrument=lost, expected="in_store", to=Whereabouts.NOT_FOUND, actor=make_user(), at=NOW)
    cases = [
        (stuck, {"question": " "}, "Say what"),
        (stuck, {"work": "moon_work"}, "no kind of work"),
        (stuck, {"findings": [finding_of(other).pk]}, "fixed in the meantime"),
        (stuck, {"expected_low_amount": D(9), "expected_high_amount": D(2)}, "violated"),
        (lost, {}, "cannot be sent"),
    ]
    for instrument, fields, sentence in cases:
        with pytest.raises(RefusedError, match=sentence):
            make_order(instrument=instrument, **fields)
    assert not ShopOrder.objects.exists()


def test_one_instrument_is_asked_about_once_at_a_time():
    order = make_order()
    with pytest.raises(RefusedError, match="already"):
        make_order(instrument=order.instrument)
    assert ShopOrder.objects.count() == 1


def test_sent_it_is_at_the_shop_and_stays_in():
    order = make_away()
    instrument = Instrument.objects.get(pk=order.instrument_id)
    assert (instrument.whereabouts, instrument.readiness) == ("at_shop", "stays_in")
    assert order_differences() == []


def test_from_the_bench_the_job_stays_open_and_gets_it_back():
    job = make_job()
    order = make_away(instrument=job.instrument)
    assert where(order) == "at_shop"
    assert Job.objects.open().get().pk == job.pk == order.job_id
    bring_back(order=order, what_was_done="Done.", actor=order.asked_by, at=LATER)
    assert where(order) == "on_bench"


def test_back_in_store_it_stays_in_until_somebody_has_played_it():
    order = make_back(instrument=make_ready_instrument())
    instrument = Instrument.objects.get(pk=order.instrument_id)
    assert (instrument.whereabouts, instrument.readiness) == ("in_store", "stays_in")
    assert [reason["code"] for reason in instrument.readiness_reasons] == ["back_from_shop"]
    test = record_play_test(instrument=instrument, result="pass", actor=order.asked_by, at=LATER)
    assert Instrument.objects.get(pk=instrument.pk).readiness == "may_go_out"
    assert tie_play_test(order=order, play_test=test, actor=order.asked_by, at=LATER).play_test == test


def test_a_test_from_before_and_of_another_instrument_prove_nothing():
    order, other = make_back(), make_ready_instrument()
    before = record_play_test(instrument=order.instrument, result="pass", actor=order.asked_by, at=NOW)
    elsewhere = record_play_test(instrument=other, result="pass", actor=order.asked_by, at=LATER)
    for test in (before, elsewhere):
        with pytest.raises(RefusedError):
            tie_play_test(order=order, play_test=test, actor=order.asked_by, at=LATER)
    assert ShopOrder.objects.get().play_test is None


def test_what_the_shop_put_right_closes():
    instrument = make_stuck_instrument()
    finding = finding_of(instrument)
    order = make_away(instrument=instrument, findings=[finding.pk])
    bring_back(
        order=order, what_was_done="Freed.", put_right=[finding.pk], warranty_until=LATER.date(), actor=order.asked_by,
        at=LATER,
    )  # fmt: skip
    assert Finding.objects.get(pk=finding.pk).closed_reference == f"order:{order.pk}"
    assert Instrument.objects.get(pk=instrument.pk).verdict == "plays"


def test_coming_back_is_refused_unsent_twice_wordless_for_other_findings_and_with_a_dead_warranty():
    unsent, back, away = make_order(), make_back(), make_away()
    cases = [
        (unsent, {"what_was_done": "x"}, "not at the shop"),
        (back, {"what_was_done": "x"}, "already back"),
        (away, {"what_was_done": " "}, "what the shop did"),
        (away, {"what_was_done": "x", "put_right": [1]}, "not asked about"),
        (away, {"what_was_done": "x", "warranty_until": TODAY}, "warranty"),
    ]
    for order, fields, sentence in cases:
        with pytest.raises(RefusedError, match=sentence):
            bring_back(order=order, actor=order.asked_by, at=LATER, **fields)
    assert where(away) == "at_shop"


def test_above_the_limit_nothing_is_sent_before_somebody_who_may_has_approved():
    order, dear = make_order(), approval_limit() + 1
    note_estimate(order=order, amount=dear, on=TODAY, actor=order.asked_by, at=NOW)
    with pytest.raises(ApprovalNeededError, match="director or an administrator"):
        send_to_shop(order=order, actor=order.asked_by, at=NOW)
    with pytest.raises(ApprovalNeededError):
        approve_order(order=order, amount=dear, actor=order.asked_by, at=NOW)
    assert where(order) == "in_store"
    director = make_user(Role.DIRECTOR, school=order.instrument.school)
    for wrong in (D(0), dear - 1):
        with pytest.raises(RefusedError):
            approve_order(order=order, amount=wrong, actor=director, at=NOW)
    approve_order(order=order, amount=dear, actor=director, at=NOW)
    send_to_shop(order=order, actor=order.asked_by, at=NOW)
    event = Event.objects.get(act="cost_approved")
    assert (event.actor, event.after["amount"]) == (director, str(dear))


def test_an_estimate_above_what_was_approved_asks_again():
    order = make_order()
    director = make_user(Role.DIRECTOR, school=order.instrument.school)
    note_estimate(order=order, amount=D(200), on=TODAY, actor=director, at=NOW)
    approve_order(order=order, amount=D(200), actor=director, at=NOW)
    note_estimate(order=order, amount=D(260), on=TODAY, actor=director, at=NOW)
    with pytest.raises(ApprovalNeededError):
        send_to_shop(order=order, actor=director, at=NOW)


def test_at_or_below_the_limit_it_just_goes():
    order = make_order(expected_low_amount=D(40), expected_high_amount=approval_limit())
    send_to_shop(order=order, actor=order.asked_by, at=NOW)
    assert where(order) == "at_shop"


def test_sending_twice_and_for_a_day_that_is_past_is_refused():
    away, fresh = make_away(), make_order()
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


def test_estimates_and_bills_have_their_time():
    away, back = make_away(), make_back()
    for refused in (
        lambda: note_estimate(order=back, amount=D(5), on=TODAY, actor=back.asked_by, at=LATER),
        lambda: note_estimate(order=away, amount=D(-5), on=TODAY, actor=away.asked_by, at=NOW),
        lambda: note_invoice(order=away, amount=D(5), on=TODAY, actor=away.asked_by, at=NOW),
        lambda: note_invoice(order=back, amount=D(-5), on=TODAY, actor=back.asked_by, at=LATER),
    ):
        with pytest.raises(RefusedError):
            refused()
    billed = note_invoice(order=back, amount=D(210), number="B-7", on=TODAY, actor=back.asked_by, at=LATER)
    assert (billed.invoice_amount, billed.invoice_number) == (210, "B-7")


def test_only_what_was_not_sent_is_called_off_with_a_reason_and_then_nothing_more_is_done():
    order, away = make_order(), make_away()
    for refused, because in ((away, "No"), (order, " ")):
        with pytest.raises(RefusedError):
            call_off(order=refused, because=because, actor=order.asked_by, at=NOW)
    call_off(order=order, because="We do it here", actor=order.asked_by, at=NOW)
    with pytest.raises(RefusedError, match="canceled"):
        send_to_shop(order=order, actor=order.asked_by, at=NOW)
    assert make_order(instrument=order.instrument).pk != order.pk


def test_an_instrument_at_a_shop_without_an_order_is_told():
    instrument = make_ready_instrument()
    move_instrument(instrument=instrument, expected="in_store", to="at_shop", actor=None, at=NOW)
    assert order_differences() == [f"{instrument.asset_number}: whereabouts is at_shop, but no order is at a shop"]


def test_at_a_shop_a_job_waits_and_refuses_every_act():
    job = make_job()
    order = make_away(instrument=job.instrument)
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


def test_no_job_begins_on_a_parts_instrument():
    instrument = make_parts_instrument()
    with pytest.raises(RefusedError, match="kept for parts"):
        make_job(instrument=instrument.instrument)
    assert not Job.objects.exists()
