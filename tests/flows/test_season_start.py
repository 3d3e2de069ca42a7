"""A season plan starts what a person would start by hand, and says the same on paper as on the page."""

from __future__ import annotations

import pypdfium2
import pytest
from django.urls import reverse

from inventory.models import PurchaseRequest
from loans.models import Loan
from repairs.models import Job, ShopOrder
from tests.desk.services.test_season_plan import make_stuck
from tests.desk.views.test_season_plan import ASKED, sealed
from tests.factories import make_inspection, make_ready_instrument
from tests.loans.makers import make_ensemble, make_loan, make_seat
from tests.repairs.makers import STUCK, make_school_bench
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


def test_jobs_and_purchases_start_each_by_themselves(client, director, school):
    client.force_login(director)
    make_school_bench(school)
    band = make_ensemble(school=school)
    for kind in ("trumpet", "tuba"):
        make_seat(place=band, kind_code=kind)
    make_stuck(school)
    posted = sealed(client, f"{ASKED}&shop_money=0")
    neither = {name: value for name, value in posted.items() if name not in {"jobs", "purchases"}}
    assert neither["orders"] == "False"  # hidden, as there is none to write
    answer = client.post(reverse("desk:start-season"), neither, follow=True)
    assert "Nothing was started. Choose jobs, shop orders or purchases." in answer.text
    client.post(reverse("desk:start-season"), neither | {"purchases": "on"})
    assert (Job.objects.count(), PurchaseRequest.objects.count()) == (0, 1)
    client.post(reverse("desk:start-season"), sealed(client, f"{ASKED}&shop_money=0"))
    assert (Job.objects.count(), PurchaseRequest.objects.count()) == (1, 1)


def test_work_on_what_is_with_a_student_is_named_on_the_plan_and_when_the_rest_starts(client, director, school):
    client.force_login(director)
    make_school_bench(school)
    out = make_loan(school=school).instrument
    ensemble = make_ensemble(school=school)
    seat = Loan.objects.get(instrument=out).student
    make_seat(place=ensemble, student=seat, kind_code=out.kind_code)
    make_seat(place=ensemble, kind_code=out.kind_code)
    make_inspection(instrument=out, findings=[STUCK])
    make_stuck(school)
    query = f"{ASKED}&purchase_money=0&shop_money=0"
    page = " ".join(client.get(reverse("desk:season-plan") + query).text.partition("Repair at")[2].split())
    assert "· with a student" in page.partition(out.asset_number)[2].partition("</li>")[0]
    answer = client.post(reverse("desk:start-season"), sealed(client, query), follow=True)
    assert "1 job opened" in answer.text
    assert f"{out.asset_number} skipped: It is with a student. Start it once it is back." in answer.text


def test_the_paper_has_the_groups_of_the_page_and_what_more_would_fill_comes_last(client, director, school):
    """A principal reads who is seated, by what, when, for how much and what is left out, before any what-if."""
    client.force_login(director)
    make_school_bench(school, name="Elm bench")
    band = make_ensemble(school=school, name="Wind band")
    for kind in ("trumpet", "trumpet", "tuba", "flute"):
        make_seat(place=band, kind_code=kind)
    ready = make_ready_instrument(school=school)
    flutes = [make_ready_instrument(school=school, kind_code="flute") for _ in range(2)]
    make_stuck(school)
    query = f"{ASKED}&shop_money=0&purchase_money=5000"
    page = client.get(reverse("desk:season-plan") + query).text
    paper = pypdfium2.PdfDocument(client.get(reverse("desk:season-plan-pdf") + query).content)
    text = " ".join(" ".join(one.get_textpage().get_text_range() for one in paper).split())
    heads = [
        "Seats filled", "Go out as they are", "Repair at Elm bench", "Buy for $", "arrives by", "What it costs",
        "Left out", "Ready, but no seat needs it: 1", "What more money or hours would fill",
        "Seats that more money would fill",
    ]  # fmt: skip
    places = [text.find(head) for head in heads]
    assert -1 not in places
    assert places == sorted(places)
    assert ready.asset_number in text[places[1] : places[2]]
    assert ready.asset_number in page.partition("Go out as they are")[2].partition("<h2")[0]
    assert all(one.asset_number in text for one in flutes)
