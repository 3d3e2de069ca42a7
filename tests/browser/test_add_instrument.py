"""A horn comes onto the list by phone in under a minute, counted in taps, typed characters and measured waits.

A tap counts 1 s and a typed character 0.3 s, as for all times that people need.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest
from django.urls import reverse

from inventory.models import Instrument
from tests.factories import make_instrument, make_room

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

pytestmark = pytest.mark.django_db(transaction=True)
TAP_SECONDS, CHARACTER_SECONDS = 1.0, 0.3
MINUTE = 60.0


@dataclass
class Hand:
    """Taps and types like a person, and adds up what that takes."""

    page: Page
    taps: int = 0
    characters: int = 0
    waited: float = 0.0

    def tap(self, target: Locator) -> None:
        target.scroll_into_view_if_needed()
        box = target.bounding_box()
        assert box is not None
        assert box["height"] >= 44, f"a target of {box['height']} px"
        start = time.monotonic()
        target.tap()
        self.taps += 1
        self.waited += time.monotonic() - start

    def type(self, target: Locator, text: str) -> None:
        self.tap(target)
        target.press_sequentially(text)
        self.characters += len(text)

    def choose(self, target: Locator, label: str) -> None:
        """Open the list, tap one of it."""
        self.tap(target)
        target.select_option(label=label)
        self.taps += 1

    def wait_for(self, target: Locator) -> None:
        start = time.monotonic()
        target.wait_for()
        self.waited += time.monotonic() - start

    @property
    def seconds(self) -> float:
        return self.taps * TAP_SECONDS + self.characters * CHARACTER_SECONDS + self.waited


def test_a_horn_is_added_on_a_phone_in_under_a_minute(open_page, director, school):
    make_room(school=school, name="Theater loft")
    page = open_page(user=director)
    page.goto(reverse("inventory:list"))
    hand = Hand(page)
    hand.tap(page.get_by_role("link", name="Add one").first)
    hand.wait_for(page.locator("#find"))
    hand.type(page.locator("#find"), "euph")
    hand.wait_for(page.locator("#kind-euphonium:checked"))
    hand.type(page.get_by_label("Serial"), "482913")
    hand.type(page.get_by_label("Maker"), "Plain Brass Works")
    hand.choose(page.get_by_label("Room", exact=True), "Theater loft")
    hand.tap(page.locator("label.chip", has_text="Gift"))
    hand.tap(page.get_by_role("button", name="Add it", exact=True).last)
    hand.wait_for(page.get_by_text("is on the list."))
    horn = Instrument.objects.get()
    assert (horn.kind_code, horn.serial, horn.acquired_by) == ("euphonium", "482913", "gift")
    assert hand.seconds < MINUTE, f"{hand.taps} taps, {hand.characters} characters, {hand.waited:.1f} s of waiting"
    assert hand.taps <= 10


def test_a_tapped_kind_stays_chosen_and_asks_what_the_kind_makes_variable(open_page, director, school):
    make_instrument(school=school)
    page = open_page(user=director)
    page.goto(reverse("inventory:add"))
    page.locator("label.chip", has_text="Trumpet").tap()
    page.get_by_label("third slide", exact=False).first.wait_for(state="attached")
    assert page.locator("#kind-trumpet").is_checked()
    page.get_by_role("button", name="Add it", exact=True).last.tap()
    page.get_by_text("is on the list.").wait_for()
    assert Instrument.objects.filter(kind_code="trumpet").count() == 2


def test_the_next_of_the_same_kind_takes_a_serial_and_a_tap(open_page, director, school):
    make_instrument(school=school)
    page = open_page(user=director)
    page.goto(f"{reverse('inventory:add')}?kind=trumpet&maker=Plain")
    hand = Hand(page)
    for serial in ("1001", "1002"):
        hand.type(page.get_by_label("Serial"), serial)
        hand.tap(page.get_by_role("button", name="Add, then another"))
        hand.wait_for(page.get_by_text("is on the list."))
    assert set(Instrument.objects.filter(maker="Plain").values_list("serial", flat=True)) == {"1001", "1002"}
    assert hand.seconds < MINUTE / 2


def test_a_list_filters_as_one_types_and_says_the_count(open_page, director, school):
    make_instrument(school=school, kind_code="tuba")
    make_instrument(school=school, kind_code="flute")
    page = open_page(user=director)
    page.goto(reverse("inventory:list"))
    page.locator("input[type=search]").press_sequentially("tuba")
    page.get_by_text("1 instrument", exact=True).first.wait_for()
    page.wait_for_function("document.getElementById('live').textContent.includes('1 instrument')")
    assert "q=tuba" in page.url


def test_labels_show_the_places_of_the_sheet_chosen(open_page, director, school, settings):
    settings.PUBLIC_ADDRESS = "https://horns.elm.example"
    make_instrument(school=school)
    page = open_page(user=director)
    page.goto(reverse("inventory:labels"))
    page.get_by_label("Sheet", exact=True).select_option("80up")
    page.locator("input[name=start][value='80']").wait_for(state="attached")
    page.locator(".start-grid label").nth(2).tap()
    with page.expect_download() as download:
        page.get_by_role("button", name="Make the PDF").tap()
    assert download.value.suggested_filename.endswith(".pdf")
