"""An instrument comes onto the list by phone in under a minute, counted in taps and typed characters."""

from __future__ import annotations

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from inventory.models import Instrument
from tests.factories import make_instrument, make_room
from tests.plugins.browser import DESK

pytestmark = pytest.mark.django_db(transaction=True)
MINUTE = 60.0


@pytest.mark.counted
def test_an_instrument_is_added_on_a_phone_in_under_a_minute(open_page, counted_hand, director, school):
    make_room(school=school, name="Theater loft")
    page = open_page(user=director)
    page.goto(reverse("inventory:list"))
    hand = counted_hand(page)
    hand.tap(page.get_by_role("link", name="Add one").first)
    hand.wait(page.locator("#find").wait_for)
    hand.type("euph", into=page.locator("#find"))
    hand.wait(page.locator("#kind-euphonium:checked").wait_for)
    hand.type("482913", into=page.get_by_label("Serial"))
    hand.type("Plain Brass Works", into=page.get_by_label("Maker"))
    hand.choose(page.get_by_label("Room", exact=True), "Theater loft")
    hand.tap(page.locator("label.chip", has_text="Gift"))
    hand.tap(page.get_by_role("button", name="Add", exact=True).last)
    hand.wait(page.get_by_text("is registered.").wait_for)
    instrument = Instrument.objects.get()
    assert (instrument.kind_code, instrument.serial, instrument.acquired_by) == ("euphonium", "482913", "gift")
    assert hand.counted_seconds < MINUTE / 2, hand
    assert len(hand.taps) <= 10, hand.taps


def test_a_tapped_kind_stays_chosen_and_asks_what_the_kind_makes_variable(open_page, director, school):
    make_instrument(school=school)
    page = open_page(user=director)
    page.goto(reverse("inventory:add"))
    page.locator("label.chip", has_text="Trumpet").tap()
    page.get_by_label("third slide", exact=False).first.wait_for(state="attached")
    assert page.locator("#kind-trumpet").is_checked()
    page.get_by_role("button", name="Add", exact=True).last.tap()
    page.get_by_text("is registered.").wait_for()
    assert Instrument.objects.filter(kind_code="trumpet").count() == 2


@pytest.mark.counted
def test_the_next_of_the_same_kind_takes_a_serial_and_a_tap(open_page, counted_hand, director, school):
    make_instrument(school=school)
    page = open_page(user=director)
    page.goto(f"{reverse('inventory:add')}?kind=trumpet&maker=Plain")
    hand = counted_hand(page)
    for serial in ("1001", "1002"):
        hand.type(serial, into=page.get_by_label("Serial"))
        hand.tap(page.get_by_role("button", name="Save and add another"))
        hand.wait(page.get_by_text("is registered.").wait_for)
    assert set(Instrument.objects.filter(maker="Plain").values_list("serial", flat=True)) == {"1001", "1002"}
    assert hand.counted_seconds < MINUTE / 4, hand


def test_a_list_filters_as_one_types_and_says_the_count(open_page, director, school):
    make_instrument(school=school, kind_code="tuba")
    make_instrument(school=school, kind_code="flute")
    page = open_page(user=director)
    page.goto(reverse("inventory:list"))
    page.locator("input[type=search]").press_sequentially("tuba")
    page.get_by_text("1 instrument", exact=True).first.wait_for()
    expect(page.locator("#live")).to_contain_text("1 instrument")
    assert "q=tuba" in page.url


@pytest.mark.parametrize("name", ["inventory:list", "repairs:jobs"])
def test_enter_asks_once_and_the_address_says_the_words_once(open_page, director, school, name):
    page = open_page(user=director, viewport=DESK)
    page.goto(f"{reverse(name)}?q=oboe")
    page.wait_for_load_state("networkidle")
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url) if "q=" in request.url else None)
    box = page.locator("main input[type=search]")
    box.fill("tuba")
    box.press("Enter")
    page.wait_for_timeout(900)  # longer than typing waits for its end
    assert len(asked) == 1, asked
    assert page.url.count("q=") == 1
    box.fill("flute")
    box.press("Enter")
    page.wait_for_url("**q=flute*")


def test_labels_show_the_places_of_the_sheet_chosen(open_page, director, school, settings):
    settings.PUBLIC_ADDRESS = "https://horns.elm.example"
    make_instrument(school=school)
    page = open_page(user=director)
    page.goto(reverse("inventory:labels"))
    page.get_by_label("Sheet", exact=True).select_option("80up")
    page.locator("input[name=start][value='80']").wait_for(state="attached")
    page.locator(".start-grid label").nth(2).tap()
    page.get_by_label("Kind", exact=True).select_option("trumpet")
    page.wait_for_url("**kind=trumpet*")
    page.get_by_role("heading", name="1 label on 1 sheet").wait_for()
    assert page.locator("input[name=start]:checked").input_value() == "3"
    with page.expect_download() as download:
        page.get_by_role("button", name="Make PDF").tap()
    assert download.value.suggested_filename.endswith(".pdf")
