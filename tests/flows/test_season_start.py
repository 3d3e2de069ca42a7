"""A season plan starts what a person would start by hand."""

from __future__ import annotations

import pytest
from django.urls import reverse

from repairs.models import ShopOrder
from tests.desk.views.test_season_plan import ASKED, make_stuck, sealed
from tests.loans.makers import make_ensemble, make_seat
from tests.repairs.makers import make_school_bench
from tests.repairs.money_makers import make_shop

pytestmark = pytest.mark.django_db


def test_what_goes_out_is_written_to_the_shop_in_the_same_act(client, director, school):
    """As the form for one instrument has it before anybody types: shop, work, findings, cost and the only budget."""
    client.force_login(director)
    bench = make_school_bench(school)
    make_seat(place=make_ensemble(school=school), kind_code="trumpet")
    make_stuck(school)
    query = f"{ASKED}&hours_{bench.pk}=0&purchase_money=0"
    posted = sealed(client, query)
    number = client.get(reverse("desk:season-plan") + query).context["page"]["to_send"][0]
    assert "Add a shop first." in client.post(reverse("desk:start-season"), posted, follow=True).text
    shop, posted = make_shop(), sealed(client, query)
    typed = client.get(reverse("repairs:ask-shop", args=[number])).context["form"].initial
    for _ in range(2):
        answer = client.post(reverse("desk:start-season"), posted, follow=True)
    order = ShopOrder.objects.get()
    page = " ".join(answer.text.partition("<main")[2].split())
    assert "1 shop order written" in page
    assert f'href="{reverse("repairs:order", args=[order.pk])}"' in page
    assert (order.instrument.asset_number, order.shop, order.sent_at) == (number, shop, None)
    names = ("question", "work", "expected_low_amount", "expected_high_amount", "budget")
    assert [getattr(order, name) for name in names] == [typed[name] for name in names]
    assert order.findings == list(typed["findings"])
    assert client.get(reverse("desk:season-plan") + query).context["start"] is None
