"""Approving what an order costs, refusing it, and going ahead after an estimate; each refusal writes nothing."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from core.exceptions import RefusedError
from core.models import Event
from inventory.catalog.load import catalog
from inventory.models import Role
from repairs.exceptions import ApprovalNeededError
from repairs.models import ShopOrder
from repairs.selectors.orders import latest_to_undo, order_events
from repairs.selectors.shops import approval_limit, limits_today
from repairs.services.orders import (
    approve_order,
    bring_back,
    call_off,
    note_estimate,
    note_invoice,
    order_work,
    refuse_order,
    send_to_shop,
    take_back,
)
from tests.catalogs import using, with_setting
from tests.factories import NOW, TODAY, make_director, make_school, make_user, new_nonce
from tests.repairs.money_makers import estimated, make_budget, make_order, where

pytestmark = pytest.mark.django_db
D = Decimal
LATER = NOW + timedelta(days=9)


def director_of(order: ShopOrder):
    return make_director(order.instrument.school)


def make_trip(*, is_sent: bool = True, **fields) -> ShopOrder:
    """An order for an estimate only."""
    order = make_order(is_estimate_only=True, expected_high_amount=None, **fields)
    return send_to_shop(order=order, actor=order.asked_by, at=NOW) if is_sent else order


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


def test_nobody_approves_or_refuses_what_they_asked_for():
    order = make_order()
    director = director_of(order)
    ShopOrder.objects.filter(pk=order.pk).update(asked_by=director)
    order = estimated(ShopOrder.objects.get(pk=order.pk), 200)
    for act, fields in ((approve_order, {"amount": D(200)}), (refuse_order, {"because": "No"})):
        with pytest.raises(ApprovalNeededError, match=r"You asked for it\. Another director or an administrator"):
            act(order=order, actor=director, at=NOW, **fields)
    assert ShopOrder.objects.filter(approved_at=None, refused_at=None).count() == 1
    with using(with_setting(catalog(), "approver_is_another", 0)):
        assert approve_order(order=order, amount=D(200), actor=director, at=NOW).approved_by == director


def test_above_the_limit_an_estimate_comes_before_the_approval():
    order = make_order(expected_high_amount=D(400))
    director = director_of(order)
    for amount in (D(400), D(100)):
        with pytest.raises(RefusedError, match=r"estimate comes first|will cost"):
            approve_order(order=order, amount=amount, actor=director, at=NOW)
    with pytest.raises(ApprovalNeededError, match="estimate comes first"):
        send_to_shop(order=order, actor=order.asked_by, at=NOW)
    open_ended = make_order(expected_high_amount=None)
    director = director_of(open_ended)
    with pytest.raises(RefusedError, match="estimate comes first"):
        approve_order(order=open_ended, amount=D(400), actor=director, at=NOW)
    with pytest.raises(ApprovalNeededError, match="Nobody has said"):
        send_to_shop(order=open_ended, actor=order.asked_by, at=NOW)
    approve_order(order=open_ended, amount=D(100), actor=director, at=NOW)
    assert send_to_shop(order=open_ended, actor=order.asked_by, at=NOW).sent_at == NOW


def test_what_another_has_settled_a_moment_ago_is_told_with_name_and_time():
    order = estimated(make_order(), 200)
    first, second = director_of(order), director_of(order)
    approve_order(order=order, amount=D(220), actor=first, at=NOW)
    with pytest.raises(RefusedError, match=rf"^{first} approved up to \$220 on "):
        approve_order(order=order, amount=D(200), actor=second, at=NOW)
    with pytest.raises(RefusedError, match=rf"^{first} approved up to"):
        refuse_order(order=order, because="Too dear", actor=second, at=NOW)
    dear = estimated(order, 300)
    refuse_order(order=dear, because="Too dear", actor=second, at=NOW)
    for act in (
        lambda: approve_order(order=order, amount=D(300), actor=first, at=NOW),
        lambda: refuse_order(order=order, because="No", actor=first, at=NOW),
        lambda: send_to_shop(order=order, actor=order.asked_by, at=NOW),
    ):
        with pytest.raises(RefusedError, match=rf"^{second} refused it on .*: Too dear. Enter a new estimate first"):
            act()


def test_what_is_refused_waits_for_a_new_estimate_or_is_called_off():
    order = estimated(make_order(), 200)
    director = director_of(order)
    with pytest.raises(RefusedError, match="Say why not"):
        refuse_order(order=order, because=" ", actor=director, at=NOW)
    refuse_order(order=order, because="Too dear", actor=director, at=NOW)
    assert Event.objects.get(act="cost_refused").after["amount"] == "200.00"
    cheaper = estimated(order, 120)
    assert (cheaper.refused_at, cheaper.refused_by) == (None, None)
    number = latest_to_undo(order_events(order)).number
    taken_back = take_back(order=order, number=number, because="Not theirs", nonce=new_nonce(), actor=director, at=NOW)
    assert (taken_back.refused_by, taken_back.refused_because) == (director, "Too dear")
    with pytest.raises(RefusedError, match="Too dear"):
        send_to_shop(order=order, actor=order.asked_by, at=NOW)
    dear = estimated(order, 260)
    refuse_order(order=dear, because="Still too dear", actor=director, at=NOW)
    assert call_off(order=order, because="Too dear", actor=order.asked_by, at=NOW).called_off_at == NOW


def test_nothing_is_refused_that_waits_for_nothing():
    order = make_order()
    with pytest.raises(RefusedError, match="no longer needs an approval"):
        refuse_order(order=order, because="No", actor=director_of(order), at=NOW)


def test_an_instrument_leaves_for_an_estimate_only_and_the_work_is_ordered_once_it_is_approved():
    order = make_trip()
    assert (order.trip_amount, where(order)) == (limits_today().trip, "at_shop")
    with pytest.raises(RefusedError, match="estimate first"):
        order_work(order=order, actor=order.asked_by, at=NOW)
    estimated(order, 240)
    with pytest.raises(ApprovalNeededError, match="above the limit"):
        order_work(order=order, actor=order.asked_by, at=NOW)
    approve_order(order=order, amount=D(240), actor=director_of(order), at=NOW)
    assert not order_work(order=order, actor=order.asked_by, at=NOW).is_estimate_only
    stood = {"amount": "240.00", "limit": "150", "approved": "240.00"}
    assert Event.objects.get(act="work_ordered").after == {**stood, "now": {"is_estimate_only": False}}
    with pytest.raises(RefusedError, match="already been ordered"):
        order_work(order=order, actor=order.asked_by, at=NOW)


def test_below_the_limit_the_work_is_ordered_without_an_approval_even_before_it_is_sent():
    for is_sent in (True, False):
        order = estimated(make_trip(is_sent=is_sent), 150)
        assert not order_work(order=order, actor=order.asked_by, at=NOW).is_estimate_only


def test_refused_work_comes_back_with_the_trip_as_its_bill():
    order = estimated(make_trip(), 240)
    director = director_of(order)
    refuse_order(order=order, because="We buy one", actor=director, at=NOW)
    with pytest.raises(RefusedError, match="We buy one"):
        order_work(order=order, actor=order.asked_by, at=NOW)
    bring_back(order=order, what_was_done="Nothing.", actor=order.asked_by, at=LATER)
    with pytest.raises(RefusedError, match="already back"):
        order_work(order=order, actor=order.asked_by, at=LATER)
    billed = note_invoice(order=order, amount=order.trip_amount, on=TODAY, actor=order.asked_by, at=LATER)
    assert billed.refused_at is None
    with pytest.raises(RefusedError, match="no longer needs"):
        refuse_order(order=order, because="No", actor=director, at=LATER)


def test_a_trip_above_its_cap_is_approved_before_it_leaves():
    order = make_trip(is_sent=False, trip_amount=D(200))
    with pytest.raises(ApprovalNeededError, match="above the"):
        send_to_shop(order=order, actor=order.asked_by, at=NOW)
    with pytest.raises(RefusedError, match="estimate comes first"):  # more than the fee is for work nobody has priced
        approve_order(order=order, amount=D(900), actor=director_of(order), at=NOW)
    approve_order(order=order, amount=D(200), actor=director_of(order), at=NOW)
    assert send_to_shop(order=order, actor=order.asked_by, at=NOW).sent_at == NOW


def test_a_bill_above_what_was_approved_is_accepted_or_disputed_until_it_is_corrected():
    order = make_order()
    director = director_of(order)
    send_to_shop(order=order, actor=order.asked_by, at=NOW)
    bring_back(order=order, what_was_done="Done.", actor=order.asked_by, at=LATER)
    bill = {"order": order, "on": TODAY, "actor": order.asked_by, "at": LATER}
    note_invoice(amount=D(300), **bill)
    with pytest.raises(RefusedError, match="will cost \\$300"):
        approve_order(order=order, amount=D(290), actor=director, at=LATER)
    refuse_order(order=order, because="Agreed on $80", actor=director, at=LATER)
    with pytest.raises(RefusedError, match=r"refused the bill on .*: Agreed on \$80\. Enter a corrected bill"):
        approve_order(order=order, amount=D(300), actor=director, at=LATER)
    assert note_invoice(amount=D(95), **bill).refused_at is None
    approve_order(order=order, amount=D(95), actor=director, at=LATER)
    with pytest.raises(RefusedError, match="approved up to \\$95"):
        refuse_order(order=order, because="No", actor=director, at=LATER)


def test_above_its_budget_even_a_little_waits_and_another_budget_can_pay():
    order = make_order()
    school, director = order.instrument.school, director_of(order)
    poor, other = make_budget(school, amount=D(20)), make_budget(make_school())
    ShopOrder.objects.filter(pk=order.pk).update(budget=poor)
    with pytest.raises(ApprovalNeededError, match=r"its budget has \$20 left"):
        send_to_shop(order=order, actor=order.asked_by, at=NOW)
    with pytest.raises(RefusedError, match="another school"):
        approve_order(order=order, amount=D(80), actor=director, at=NOW, budget=other)
    rich = make_budget(school, fund="Booster club")
    paid = approve_order(order=order, amount=D(80), actor=director, at=NOW, budget=rich, purchase_order="PO-7")
    assert (paid.budget, paid.purchase_order, paid.approved_amount) == (rich, "PO-7", 80)


def test_what_leaves_keeps_the_limit_and_the_approval_it_left_with():
    order = estimated(make_order(), 200)
    approve_order(order=order, amount=D(210), actor=director_of(order), at=NOW)
    send_to_shop(order=order, actor=order.asked_by, at=NOW)
    after = Event.objects.get(act="sent_to_shop").after
    assert (after["amount"], after["limit"], after["approved"]) == ("200.00", str(approval_limit()), "210.00")


def test_a_tech_and_a_stranger_approve_and_refuse_nothing():
    order = estimated(make_order(), 200)
    for person in (
        make_user(Role.TECH, school=order.instrument.school),
        make_user(Role.DIRECTOR, school=make_school()),
    ):
        for act, fields in ((approve_order, {"amount": D(200)}), (refuse_order, {"because": "No"})):
            with pytest.raises(ApprovalNeededError, match="Only a director or an administrator"):
                act(order=order, actor=person, at=NOW, **fields)
