"""Whether a request is somebody's own, and whether anybody else is there to approve it."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.access import is_barred
from inventory.catalog.load import catalog
from inventory.models import Role
from repairs.models import ShopOrder
from repairs.selectors.approvals import approval_differences, has_other_approver
from repairs.services.orders import approve_order, note_estimate, send_to_shop
from tests.catalogs import using, with_setting
from tests.factories import NOW, TODAY, make_director, make_school, make_user
from tests.repairs.money_makers import make_order

pytestmark = pytest.mark.django_db


def test_the_own_request_is_barred_unless_the_district_says_otherwise(school):
    director = make_director(school)
    assert is_barred(director, asker_id=director.pk)
    assert not is_barred(director, asker_id=director.pk + 1)
    with using(with_setting(catalog(), "approver_is_another", 0)):
        assert not is_barred(director, asker_id=director.pk)


def test_another_approver_is_a_director_here_or_an_administrator_who_still_logs_in(school):
    director = make_director(school)
    make_user(Role.TECH, school=school)
    make_user(Role.AUDITOR)
    make_director(make_school())
    gone = make_user(Role.ADMINISTRATOR)
    assert has_other_approver(director, school_id=school.pk)
    type(gone).objects.filter(pk=gone.pk).update(is_active=False)
    assert not has_other_approver(director, school_id=school.pk)
    make_director(school)
    assert has_other_approver(director, school_id=school.pk)


def test_an_approval_without_its_event_and_an_order_that_left_above_what_was_allowed_are_told(monkeypatch):
    order = make_order()
    fields = {"order": order, "actor": order.asked_by, "at": NOW}
    note_estimate(amount=Decimal(200), on=TODAY, **fields)
    approve_order(order=order, amount=Decimal(210), actor=make_director(order.instrument.school), at=NOW)
    send_to_shop(**fields)
    assert approval_differences() == []
    ShopOrder.objects.filter(pk=order.pk).update(approved_amount=Decimal(900))
    assert approval_differences() == [f"order {order.pk}: approved up to 900.00, but no event says so"]
    other = make_order()
    note_estimate(order=other, amount=Decimal(300), on=TODAY, actor=other.asked_by, at=NOW)
    monkeypatch.setattr("repairs.services.orders.approving.waits_for", lambda *_: None)
    send_to_shop(order=other, actor=other.asked_by, at=NOW)
    assert approval_differences()[0] == f"order {other.pk}: sent_to_shop at 300.00, approved 0"
