"""The four decisions to their ends, on a phone: what a tech decides, a director approves, and where each leads."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from inventory.models import Instrument
from inventory.services.care import record_play_test
from repairs.models import Job, PartsInstrument, Shop, ShopOrder, WorthDecision
from tests.factories import make_bench
from tests.repairs.money_makers import make_refusal, make_returned_order, make_shop, make_stuck_instrument

WORTH = re.compile("/bench/worth/(?!approvals)")


@pytest.fixture
def instrument(live_server, school):
    make_bench(school=school)
    make_shop(name="Brook Street")
    return make_stuck_instrument(school=school, year_made=2020)


def decide(page, instrument, answer, *, because="So be it"):
    page.goto(reverse("repairs:worth", args=[instrument.asset_number]))
    page.get_by_role("link", name="Decide").tap()
    page.get_by_label(answer, exact=True).check()
    page.get_by_label("Why", exact=False).first.fill(because)
    page.locator("#decide button[type=submit]").tap()


def settle(open_page, director, instrument, answer, *, note="", leads_to=WORTH):
    page = open_page(user=director)
    page.goto(reverse("desk:today"))
    page.get_by_role("link", name="to approve").tap()
    page.get_by_text(instrument.asset_number).first.wait_for()
    if note:
        page.get_by_label("Your reason").fill(note)
    page.get_by_role("button", name=answer, exact=True).tap()
    page.wait_for_url(leads_to)
    return page


def fits(page):
    return page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_repair_here_ends_at_the_job_s_first_step(open_page, tech, instrument):
    page = open_page(user=tech)
    decide(page, instrument, "Repair here")
    page.get_by_text("Decided: repair here").wait_for()
    assert page.url.endswith(reverse("repairs:job", args=[Job.objects.get().pk]))
    assert Job.objects.get().decision == WorthDecision.objects.get()
    assert fits(page)


def test_send_out_ends_at_the_order_with_shop_and_work_filled(open_page, tech, instrument):
    page = open_page(user=tech)
    decide(page, instrument, "Send out")
    page.get_by_role("heading", name="Ask an outside shop").wait_for()
    assert page.get_by_role("combobox", name="Shop").first.locator("option:checked").inner_text() == "Brook Street"
    page.get_by_label("What to ask the shop").fill("Free the main slide.")
    assert fits(page)
    page.get_by_role("button", name="Write the order").tap()
    page.get_by_role("heading", name=re.compile("Ready to send|Waiting")).wait_for()
    assert ShopOrder.objects.get().decision == WorthDecision.objects.get()


def test_retire_ends_at_an_instrument_that_stays_in(open_page, tech, director, instrument):
    page = open_page(user=tech)
    decide(page, instrument, "Retire")
    page.get_by_text("Retire: waiting for approval").wait_for()
    assert fits(settle(open_page, director, instrument, "Approve", leads_to=re.compile("/leave/")))
    page.goto(reverse("desk:instrument", args=[instrument.asset_number]))
    page.get_by_text("It is retired.").wait_for()
    assert page.get_by_role("link", name="Start job").count() == 0
    assert Instrument.objects.get(pk=instrument.pk).is_retired
    decide(page, instrument, "Repair here")
    page.get_by_text("Decided: repair here").wait_for()
    assert Job.objects.filter(closed_at=None).count() == 1
    assert not Instrument.objects.get(pk=instrument.pk).is_retired


def test_keep_for_parts_ends_at_its_parts(open_page, tech, director, instrument):
    page = open_page(user=tech)
    decide(page, instrument, "Keep for parts")
    page.get_by_text("Keep for parts: waiting for approval").wait_for()
    settle(open_page, director, instrument, "Approve")
    page.goto(reverse("repairs:parts-horn", args=[instrument.asset_number]))
    assert page.get_by_text("So be it").count()
    assert PartsInstrument.objects.get().instrument == instrument


def test_refused_is_told_on_today_and_starts_nothing(open_page, tech, instrument):
    make_refusal(instrument=instrument, actor=tech)
    page = open_page(user=tech)
    page.goto(reverse("desk:today"))
    page.get_by_text("Not approved: repair here").wait_for()
    assert page.get_by_text("Buy one.").count()
    assert fits(page)
    page.get_by_role("button", name="I have read this").tap()
    page.get_by_text("Not approved: repair here").wait_for(state="detached")
    page.get_by_role("heading", name="Today").wait_for()
    page.goto(reverse("repairs:open-job", args=[instrument.asset_number]))
    page.get_by_text("Not approved: repair here").wait_for()
    assert page.get_by_role("button", name="Start the job").count() == 0
    assert fits(page)
    assert not Job.objects.exists()


def test_failed_work_goes_back_to_the_shop_at_one_tap(open_page, tech, instrument):
    order = make_returned_order(instrument=instrument, shop=Shop.objects.get())
    ShopOrder.objects.update(warranty_until=None)  # the day of the test is any day
    page = open_page(user=tech)
    page.goto(reverse("desk:today"))
    page.get_by_role("heading", name="Back, not yet played").wait_for()
    page.get_by_role("heading", name="Bill to come").wait_for()
    record_play_test(
        instrument=instrument, result="fail", note="Rattles", actor=tech, at=order.returned_at + timedelta(days=1)
    )
    page.goto(reverse("repairs:order", args=[order.pk]))
    assert fits(page)
    page.get_by_role("button", name="Send it back on warranty").tap()
    page.get_by_text("Under warranty: it came back on").wait_for()
    assert fits(page)
    again = ShopOrder.objects.get(warranty_of=order)
    assert (again.shop, again.expected_high_amount) == (order.shop, 0)
