"""At a desk with a mouse: enough rows at once, and every page begins at the same place."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests.factories import make_instrument
from tests.plugins.browser import DESK

ROWS = 20  # of a list that somebody sees at once; a figure of the house's own
WHOLE_ROWS = """() => [...document.querySelectorAll('main tbody tr')].filter((row) => {
  const box = row.getBoundingClientRect();
  return box.height && box.top >= 0 && box.bottom <= innerHeight;
}).length"""
PLACE = "(() => { const box = document.querySelector('h1').getBoundingClientRect(); return [box.left, box.top]; })()"


@pytest.mark.django_db(transaction=True)
def test_the_register_shows_twenty_rows_and_titles_stand_at_one_place(open_page, director, school):
    for number in range(25):
        make_instrument(school=school, asset_number=f"TV-{number:04}")
    page = open_page(user=director, viewport=DESK)
    places = {}
    for name in ("inventory:list", "loans:list", "repairs:jobs", "desk:today", "desk:scan", "core:me"):
        page.goto(reverse(name))
        places[name] = [round(part) for part in page.evaluate(PLACE)]
        if name == "inventory:list":
            assert page.evaluate(WHOLE_ROWS) >= ROWS
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    lefts, tops = zip(*places.values(), strict=True)
    assert max(lefts) - min(lefts) <= 1, places
    assert max(tops) - min(tops) <= 3, places  # a line above the title, or the room kept for it


PLACES = "[...document.querySelectorAll('tbody tr')].map((row) => row.getBoundingClientRect().top)"


@pytest.mark.django_db(transaction=True)
def test_rows_are_checked_one_by_one_in_a_run_and_all_at_once_and_the_bar_covers_none(open_page, director, school):
    """WCAG 2.2: 4.1.3, what changed is said; 2.4.11, nothing that has the focus is covered."""
    for number in range(6):
        make_instrument(school=school, asset_number=f"TV-{number:04}")
    page = open_page(user=director, viewport=DESK)
    page.goto(reverse("inventory:list"))
    boxes, bar = page.locator("tbody .pick input"), page.locator(".picked-bar")
    before = page.evaluate(PLACES)
    assert not bar.is_visible()
    boxes.nth(1).click()
    boxes.nth(4).click(modifiers=["Shift"])
    assert [box.is_checked() for box in boxes.all()] == [False, True, True, True, True, False]
    assert page.evaluate(PLACES) == before
    assert "4 selected" in bar.inner_text()
    page.locator("#live", has_text="4 selected").wait_for(state="attached")
    low = bar.bounding_box()
    assert low["y"] + low["height"] <= before[0]
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Space")
    assert boxes.nth(5).is_checked()
    page.get_by_label("Select all on this page").click()
    assert all(box.is_checked() for box in boxes.all())
    bar.get_by_role("button", name="Clear selection").click()
    assert not bar.is_visible()
    boxes.nth(2).click()
    bar.get_by_role("button", name="Move").click()
    page.get_by_role("heading", name="Move 1 instrument").wait_for()
    assert "TV-0002" in page.locator("main").inner_text()
