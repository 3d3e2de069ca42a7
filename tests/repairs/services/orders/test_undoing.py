"""Acts on an order that a new act takes back, and what makes that impossible."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from core.exceptions import RefusedError
from inventory.models import Custody, Finding, Instrument, Role
from inventory.selectors.state import stored_differences
from inventory.services.care import record_play_test
from inventory.services.inspecting import carry_over_inspection
from inventory.services.state import retire
from repairs.exceptions import ApprovalNeededError
from repairs.models import OrderUndo, ShopOrder
from repairs.selectors.orders import latest_to_undo, order_events
from repairs.selectors.shops import order_differences
from repairs.services.jobs import open_job
from repairs.services.orders import (
    approve_order,
    bring_back,
    call_off,
    change_promise,
    note_estimate,
    note_invoice,
    send_to_shop,
    take_back,
)
from tests.factories import NOW, TODAY, make_bench, make_ready_instrument, make_user, new_nonce
from tests.repairs.money_makers import (
    finding_of,
    make_job,
    make_order,
    make_parts_instrument,
    make_returned_order,
    make_sent_order,
    make_stuck_instrument,
    where,
)

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(days=9)
COLUMNS = [
    "estimate_amount", "estimate_on", "approved_amount", "approved_by_id", "sent_at", "promised_on",
    "first_promised_on", "returned_at", "what_was_done", "warranty_until", "invoice_amount", "invoice_number",
    "called_off_at", "called_off_because",
]  # fmt: skip


def columns(order):
    return ShopOrder.objects.filter(pk=order.pk).values(*COLUMNS).get()


def undo(order, *, actor=None, at=LATER, **fields):
    event = latest_to_undo(order_events(order))
    given = {"because": "Wrong instrument", "nonce": new_nonce(), "number": event.number if event else 0} | fields
    return take_back(order=order, actor=actor or order.asked_by, at=at, **given)


def found_wrong():
    return order_differences() + [wrong for _, wrong in stored_differences(Instrument.objects.all()) if wrong]


def test_each_act_gives_back_the_columns_it_wrote():
    order = make_order(promised_on=TODAY + timedelta(days=3))
    tech, director = order.asked_by, make_user(Role.DIRECTOR, school=order.instrument.school)
    acts = [
        lambda: note_estimate(order=order, amount=Decimal(90), on=TODAY, actor=tech, at=NOW),
        lambda: note_estimate(order=order, amount=Decimal(95), on=TODAY, actor=tech, at=NOW),
        lambda: approve_order(order=order, amount=Decimal(99), actor=director, at=NOW),
        lambda: send_to_shop(order=order, promised_on=TODAY + timedelta(days=5), actor=tech, at=NOW),
        lambda: change_promise(order=order, promised_on=TODAY + timedelta(days=12), actor=tech, at=NOW),
        lambda: bring_back(order=order, what_was_done="Freed", warranty_until=LATER.date(), actor=tech, at=LATER),
        lambda: note_invoice(order=order, amount=Decimal(96), number="A-1", on=TODAY, actor=tech, at=LATER),
        lambda: note_invoice(order=order, amount=Decimal(98), number="A-2", on=TODAY, actor=tech, at=LATER),
    ]
    seen = []
    for act in acts:
        seen.append((columns(order), where(order)))
        act()
    while seen:
        undo(order, actor=director)
        assert (columns(order), where(order)) == seen.pop()
        assert found_wrong() == []
    assert OrderUndo.objects.count() == len(acts)
    assert latest_to_undo(order_events(order)) is None  # asking is canceled, not undone


def test_what_was_canceled_is_asked_again_by_taking_that_back():
    order = make_order()
    call_off(order=order, because="We do it here", actor=order.asked_by, at=NOW)
    undo(order)
    assert ShopOrder.objects.open().get() == order
    assert OrderUndo.objects.get().words == "We do it here"


def test_what_was_asked_about_again_is_not_opened_twice():
    dropped, back = make_order(), make_returned_order()
    call_off(order=dropped, because="No", actor=dropped.asked_by, at=NOW)
    for order in (dropped, back):
        make_order(instrument=order.instrument, at=LATER)
        with pytest.raises(RefusedError, match="asked about it again"):
            undo(order)


def test_no_order_is_opened_again_on_what_was_given_up_since():
    dropped, back = make_order(), make_returned_order()
    call_off(order=dropped, because="No", actor=dropped.asked_by, at=NOW)
    make_parts_instrument(instrument=dropped.instrument)
    retire(instrument=back.instrument, is_retired=True, actor=back.asked_by, at=LATER)
    for order, why in ((dropped, "kept for parts"), (back, "is retired")):
        with pytest.raises(RefusedError, match=why):
            undo(order)
    assert not ShopOrder.objects.open().exists()


def test_never_sent_means_never_away_and_no_play_test_is_due():
    order = make_sent_order(instrument=make_ready_instrument())
    undo(order)
    instrument = Instrument.objects.get(pk=order.instrument_id)
    assert (instrument.whereabouts, instrument.readiness) == ("in_store", "may_go_out")
    assert list(Custody.objects.filter(instrument=instrument).values_list("whereabouts", "undone_at")[:2]) == [
        ("in_store", None),
        ("at_shop", LATER),
    ]
    again = LATER + timedelta(days=1)
    send_to_shop(order=order, actor=order.asked_by, at=again)
    undo(order, at=again)
    away = Custody.objects.filter(instrument=instrument, whereabouts="at_shop").order_by("pk")
    assert list(away.values_list("undone_at", flat=True)) == [LATER, again]


def test_from_the_bench_it_is_back_on_the_bench():
    order = make_sent_order(instrument=make_job().instrument)
    undo(order)
    assert where(order) == "on_bench"


def test_still_at_the_shop_means_that_what_it_put_right_stands_again():
    instrument = make_stuck_instrument()
    finding = finding_of(instrument)
    order = make_sent_order(instrument=instrument, findings=[finding.pk])
    bring_back(order=order, what_was_done="Freed", put_right=[finding.pk], actor=order.asked_by, at=LATER)
    assert not Finding.objects.filter(instrument=instrument).standing().exists()
    undo(order)
    assert Finding.objects.filter(instrument=instrument).standing().get() == finding
    assert where(order) == "at_shop"
    assert OrderUndo.objects.get().words == "Freed"
    bring_back(order=order, what_was_done="Freed", put_right=[finding.pk], actor=order.asked_by, at=LATER)
    assert Instrument.objects.get(pk=instrument.pk).readiness_reasons[0]["code"] == "back_from_shop"


def test_what_was_played_inspected_or_moved_since_is_back():
    played, looked, worked = (make_returned_order(instrument=make_stuck_instrument()) for _ in range(3))
    actor = make_user(Role.TECH, school=played.instrument.school, name="Dana Reyes")
    record_play_test(instrument=played.instrument, result="pass", actor=actor, at=LATER)
    carry_over_inspection(instrument=looked.instrument, purpose="routine", actor=actor, at=LATER, finish=True)
    bench = make_bench(school=worked.instrument.school)
    open_job(instrument=worked.instrument, bench=bench, actor=actor, at=LATER)
    for order, words in ((played, "was played on"), (looked, "was inspected on"), (worked, "is on the bench since")):
        with pytest.raises(RefusedError, match=words):
            undo(order)
        assert where(order) != "at_shop"


def test_two_who_saw_the_same_act_take_back_one():
    order = make_sent_order()
    number = latest_to_undo(order_events(order)).number
    undo(order)
    with pytest.raises(RefusedError, match="meantime"):
        undo(order, number=number)


def test_the_same_form_posted_twice_counts_once():
    order, nonce = make_sent_order(), new_nonce()
    number = latest_to_undo(order_events(order)).number
    for _ in range(2):
        undo(order, number=number, nonce=nonce)
    assert OrderUndo.objects.count() == 1


def test_an_approval_is_taken_back_by_who_may_give_it_and_everything_with_a_reason():
    order = make_order()
    director = make_user(Role.DIRECTOR, school=order.instrument.school)
    note_estimate(order=order, amount=Decimal(200), on=TODAY, actor=director, at=NOW)
    approve_order(order=order, amount=Decimal(200), actor=director, at=NOW)
    with pytest.raises(ApprovalNeededError):
        undo(order)
    with pytest.raises(RefusedError, match="Enter a reason"):
        undo(order, actor=director, because=" ")
    undo(order, actor=director)
    with pytest.raises(ApprovalNeededError):
        send_to_shop(order=order, actor=order.asked_by, at=NOW)


def test_what_was_not_approved_is_taken_back_only_by_who_may_send():
    order = make_sent_order()
    with pytest.raises(RefusedError, match="Only a director or a tech"):
        undo(order, actor=make_user(Role.ADMINISTRATOR))
    assert ShopOrder.objects.get(pk=order.pk).sent_at is not None


def test_who_pays_is_taken_back_with_the_act_that_said_it():
    order = make_returned_order()
    note_invoice(order=order, amount=Decimal(40), on=TODAY, purchase_order="PO-7", actor=order.asked_by, at=LATER)
    assert ShopOrder.objects.get().purchase_order == "PO-7"
    undo(order)
    assert ShopOrder.objects.get().purchase_order == ""
