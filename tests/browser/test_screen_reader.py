"""Through roles, names and live messages alone, as a screen reader goes through a page.

Outside checks: WCAG 2.2, success criteria 1.3.1 (groups and their names are in the tree), 2.4.6, 4.1.2 (every control has a name and
a role) and 4.1.3 (a status message is heard without the focus); ARIA 1.2 for what a region, a group and a status are.
"""

from __future__ import annotations

import re

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from inventory.models import Inspection
from tests.factories import make_instrument
from tests.plugins.hand import BETWEEN_TAPS_MS

HEARD = 6  # parts, among them one with a finding
NAMELESS = re.compile(
    r"^\s*- (button|link|radio|checkbox|textbox|combobox|spinbutton|radiogroup|region)(:|$)", re.MULTILINE
)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("is_each_heard", [False, pytest.param(True, marks=pytest.mark.drill)], ids=["some", "each"])
def test_an_alto_saxophone_is_inspected_by_what_is_heard(is_each_heard, open_page, settings, tech, school):
    settings.DEMO = True
    instrument = make_instrument(school=school, kind_code="sax_alto")
    page = open_page(user=tech)
    page.goto(f"{reverse('inventory:inspect', args=[instrument.asset_number])}?purpose=intake")
    expect(page.get_by_role("complementary", name="Demo")).to_contain_text("nothing here is real")
    answers = page.get_by_role("region", name="Actions")
    answers.get_by_role("button", name="Yes, safe", exact=True).click()
    page.wait_for_url("**/walk/**")
    said = page.get_by_role("status").filter(has_text="Next:")

    for number, part in enumerate(instrument.parts, start=1):
        here = page.get_by_role("region", name=part.name, exact=True)
        expect(here.get_by_role("heading", name=part.name, level=1)).to_be_focused()
        page.wait_for_timeout(BETWEEN_TAPS_MS)
        if number == 1:
            assert NAMELESS.search(page.locator("body").aria_snapshot()) is None
        if part.code == "neck_cork":
            answers.get_by_role("link", name="Something is wrong", exact=True).click()
            faults = here.get_by_role("radiogroup", name="What is wrong?")
            tree = here.aria_snapshot()
            assert NAMELESS.search(tree) is None
            assert tree.count("What is wrong?") == 2  # the words, and the name of the group
            fault = faults.get_by_role("radio").first
            name = fault.evaluate("(one) => one.labels[0].querySelector('span').textContent")
            faults.get_by_role("radio", name=name, exact=True).check()
            severities = here.get_by_role("group", name="How bad")
            expect(severities.get_by_role("button")).to_have_count(3)
            severities.get_by_role("button", name=re.compile("^Moderate")).click()
            heard = f"{part.name}: {name}, moderate."
        elif is_each_heard or number < HEARD:
            answers.get_by_role("button", name="Fine", exact=True).click()
            heard = f"{part.name}: fine."
        else:
            answers.get_by_role("button", name="All fine from here", exact=True).click()
            expect(said).to_contain_text("All fine from here. Next: What goes with it.")
            break
        expect(said).to_contain_text(heard)
    page.wait_for_timeout(BETWEEN_TAPS_MS)
    goes_with_it = page.get_by_role("region", name="What goes with it")
    assert NAMELESS.search(goes_with_it.aria_snapshot()) is None
    answers.get_by_role("button", name="All there", exact=True).click()
    expect(said).to_contain_text("All there.")
    page.wait_for_timeout(BETWEEN_TAPS_MS)
    answers.get_by_role("button", name="Finish and see the verdict").click()
    expect(page.get_by_role("heading", name="Inspected", level=1)).to_be_visible()
    walk = Inspection.objects.get(instrument=instrument)
    assert walk.finished_at is not None
    assert walk.findings.count() == 1
