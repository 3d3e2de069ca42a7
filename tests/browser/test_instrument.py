"""The instrument page on a phone: how far one scrolls until its history, and what its folds say while shut."""

from __future__ import annotations

import pytest
from django.urls import reverse

from inventory.services.care import record_play_test
from inventory.services.inspecting import count_accessories
from tests.factories import NOW, make_inspection, make_instrument
from tests.plugins.browser import PHONE

MOST_SCREENS = 3  # before the history; our own measure, no source
FINDINGS = [
    ("upper_stack", "pad_leak", "moderate", "small_C_pad"),
    ("upper_stack", "pad_leak", "light", "A_pad"),
    ("neck_tube", "neck_pulled_down", "light"),
]
HISTORY = """() => [...document.querySelectorAll('main h2, main summary')]
  .find(one => one.textContent.includes('History')).getBoundingClientRect().top + scrollY"""


@pytest.mark.django_db(transaction=True)
def test_the_history_stands_within_three_screens_of_a_phone(open_page, tech, school):
    instrument = make_instrument(school=school, kind_code="sax_alto")
    make_inspection(instrument=instrument, findings=FINDINGS)
    gone = {row.code: 0 for row in instrument.accessories.all()}
    count_accessories(instrument=instrument, counts=gone, actor=tech, at=NOW)
    record_play_test(instrument=instrument, result="fail", failed_notes=["C5", "D5"], actor=tech, at=NOW)
    page = open_page(user=tech)
    page.goto(reverse("desk:instrument", args=[instrument.asset_number]))
    said = [" ".join(one.split()) for one in page.locator("main summary").all_inner_texts()]
    assert f"Accessories {len(gone)} missing" in said
    assert "Play tests 2 notes failed or weak" in said
    assert any(one.startswith("First-year notes ") and "lost" in one for one in said)
    assert page.evaluate(HISTORY) <= MOST_SCREENS * PHONE["height"]
    for name in ("First-year notes", "Accessories", "Play tests"):
        page.locator("main summary", has_text=name).tap()
    page.get_by_role("heading", name="Suspects").wait_for()
    assert page.evaluate(HISTORY) > MOST_SCREENS * PHONE["height"], "open, they fill more: the page is no easy one"
