"""What was there before every row had an event is opened by the upgrade, once."""

from __future__ import annotations

import pytest
from django.core.management import call_command

from core.events import broken_links
from core.models import Event
from core.traces import NOW as NOW_KEY
from core.traces import OPENING, log_differences
from repairs.models import ShopOrder
from tests.factories import make_room
from tests.loans.makers import make_agreement
from tests.migrating import newest_afterward
from tests.repairs.money_makers import make_attempt, make_item, make_returned_order
from tests.tampering import tamper


def migrate_away_and_back() -> None:
    call_command("migrate", "desk", "zero", verbosity=0)
    call_command("migrate", "desk", verbosity=0)


@pytest.mark.django_db(transaction=True)
def test_rows_of_old_are_opened_with_what_they_hold(request):
    newest_afterward(request)
    make_agreement()
    make_attempt()
    make_item(quantity="3")
    make_returned_order(amount=70)
    room = make_room()
    assert f"room {room.pk} is there, but no event says how it came about" in list(log_differences())
    migrate_away_and_back()
    assert list(log_differences()) == []
    assert list(broken_links()) == []
    order = ShopOrder.objects.get()
    opened = Event.objects.filter(act=OPENING)
    assert opened.get(subject_type="repairs.shoporder").after[NOW_KEY]["invoice_amount"] == "70.00"
    count = opened.count()
    migrate_away_and_back()
    assert opened.count() == count
    tamper("UPDATE repairs_shoporder SET invoice_amount = 71 WHERE id = %s", order.pk)
    (told,) = log_differences()
    assert told.startswith(f"shop order {order.pk}: invoice amount is 71")
