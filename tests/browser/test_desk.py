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
