"""Pages of the shops themselves."""

from __future__ import annotations

from datetime import timedelta

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from repairs.models import Shop, ShopOrder
from repairs.services.orders import bring_back, send_to_shop
from tests.factories import make_school
from tests.repairs.money_makers import make_order, make_shop, make_stuck_instrument


def sent(school, *, days: int, promised_in: int) -> ShopOrder:
    at = timezone.now() - timedelta(days=days)
    order = make_order(instrument=make_stuck_instrument(school=school), at=at)
    promised = timezone.localdate(at) + timedelta(days=promised_in)
    return send_to_shop(order=order, actor=order.asked_by, at=at, promised_on=promised)


def test_a_shop_is_added_and_corrected(desk):
    desk.post(reverse("repairs:add-shop"), {"name": "Brook Street", "contact": "555"})
    shop = Shop.objects.get()
    desk.post(reverse("repairs:change-shop", args=[shop.pk]), {"name": "Brook Street Brass", "is_used": ""})
    shop.refresh_from_db()
    assert (shop.name, shop.is_used) == ("Brook Street Brass", False)


def test_what_came_back_leads_to_its_order(desk, school):
    order = sent(school, days=3, promised_in=30)
    bring_back(order=order, what_was_done="Freed", actor=order.asked_by, at=timezone.now())
    assert reverse("repairs:order", args=[order.pk]) in desk.get(reverse("repairs:shops")).text


def test_what_is_late_comes_first_and_says_by_how_much(desk, school):
    on_time, late = sent(school, days=3, promised_in=30), sent(school, days=20, promised_in=15)
    page = desk.get(reverse("repairs:shops")).text
    assert page.index(late.instrument.asset_number) < page.index(on_time.instrument.asset_number)
    assert "5 days late" in page


def test_orders_of_other_schools_are_not_shown_but_how_a_shop_did_is_the_districts(desk):
    theirs = sent(make_school(), days=10, promised_in=15)
    bring_back(order=theirs, what_was_done="Done", actor=theirs.asked_by, at=timezone.now())
    for url in (reverse("repairs:shops"), reverse("repairs:shop", args=[theirs.shop_id])):
        page = desk.get(url).text
        assert theirs.instrument.asset_number not in page
        assert "1 of 1" in page  # on time


def test_the_list_costs_the_same_for_one_order_and_for_ten(desk, school):
    sent(school, days=3, promised_in=30)
    url = reverse("repairs:shops")
    desk.get(url)
    with CaptureQueriesContext(connection) as one:
        desk.get(url)
    for _ in range(9):
        sent(school, days=3, promised_in=30)
    with CaptureQueriesContext(connection) as ten:
        desk.get(url)
    assert len(ten) == len(one) <= 12


def test_a_name_with_tags_and_marks_is_text(desk):
    make_shop(name="<b>Brook</b> \u202e&")
    assert "&lt;b&gt;Brook&lt;/b&gt; \u202e&amp;" in desk.get(reverse("repairs:shops")).text


def test_open_orders_come_a_page_at_a_time(desk, school, monkeypatch):
    monkeypatch.setattr("repairs.views.shops.LATEST", 2)
    numbers = [sent(school, days=3, promised_in=30).instrument.asset_number for _ in range(3)]
    pages = [desk.get(reverse("repairs:shops"), {"page": page}).text for page in (1, 2)]
    assert [[number in page for number in numbers] for page in pages] == [[True, True, False], [False, False, True]]
