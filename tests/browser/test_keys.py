"""By keyboard alone. Outside checks: WCAG 2.2, success criteria 2.1.1 (everything works by keyboard), 2.1.4 (a single key never
acts while one types, and can be turned off), 2.4.11 (what has the focus is not hidden) and 4.1.3 (a status message says what
changed). How many keys an inspection takes is a figure of the house's own.
"""

from __future__ import annotations

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from inventory.models import Inspection
from tests.factories import make_instrument
from tests.plugins.browser import DESK, PHONE
from tests.plugins.hand import BETWEEN_TAPS_MS

MOST_KEYS = 60
TABS = 30
FOCUSED = "() => document.activeElement.textContent.trim().replace(/\\s+/g, ' ')"
# What lies over the middle or a corner of what has the focus, and stays there while the page scrolls.
HIDDEN = """() => {
  const one = document.activeElement, box = (one.closest('label') ?? one).getBoundingClientRect();
  if (one === document.body || one.matches('main')) return '';
  const stays = (top) => {
    for (let over = top; over && !over.contains(one); over = over.parentElement) {
      if (/fixed|sticky/.test(getComputedStyle(over).position)) return true;
    }
    return false;
  };
  const at = ([x, y]) => document.elementFromPoint(box.left + box.width * x, box.top + box.height * y);
  const over = [[.5, .5], [.1, .2], [.9, .2], [.1, .8], [.9, .8]].map(at).find((top) => !top || stays(top));
  return over === undefined ? '' : `${one.outerHTML.slice(0, 120)} at ${Math.round(box.top)} under ${over?.outerHTML.slice(0, 80)}`;
}"""


@pytest.mark.counted
@pytest.mark.django_db(transaction=True)
def test_an_alto_saxophone_is_inspected_with_sixty_keys(open_page, tech, school, record_property):
    instrument = make_instrument(school=school, kind_code="sax_alto")
    page = open_page(user=tech, viewport=DESK)
    page.goto(f"{reverse('inventory:inspect', args=[instrument.asset_number])}?purpose=intake")
    keys: list[str] = []

    def press(key: str) -> None:
        page.keyboard.press(key)
        keys.append(key)

    stop = page.locator("[data-stop]:not([hidden])")
    with page.expect_navigation():
        press("y")
    expect(stop.locator("h1")).to_be_focused()
    fault = ""
    press("f")
    press("f")  # at once: nobody types so quickly, and none is lost
    for number, part in enumerate(instrument.parts[2:], start=3):
        expect(stop).to_have_attribute("data-stop", part.code)
        if part.code == "neck_cork":
            press("n")
            fault = page.evaluate("document.activeElement.value")  # the first of the list has the focus
            press("1")
            press("m")
        else:
            press("f")
        expect(stop).not_to_have_attribute("data-stop", part.code)
        following = stop.locator("h1").inner_text()
        where = f", {number + 1} of {len(instrument.parts)}" if number < len(instrument.parts) else ""
        expect(page.get_by_role("status").filter(has_text=f"Next: {following}{where}.")).to_have_count(1)
        expect(stop.locator("h1")).to_be_focused()
    press("a")
    press("v")
    page.wait_for_selector(".page-head .verdict-big")
    walk = Inspection.objects.get(instrument=instrument)
    assert walk.finished_at is not None
    assert list(walk.findings.values_list("part", "fault", "severity")) == [("neck_cork", fault, "moderate")]
    assert walk.looks.count() == len(instrument.parts) - 1
    record_property("keys", len(keys))
    assert len(keys) <= MOST_KEYS, keys


def change_keys(page, walk: str) -> None:
    """Another letter answers, the one that has it takes its place, a digit is left alone."""
    page.goto(reverse("core:me"))
    page.get_by_text("Choose other keys").click()
    fine, wrong = (page.get_by_role("textbox", name=name, exact=True) for name in ("Fine", "Something is wrong, No"))
    for key, (one, other) in {"j": ("J", "N"), "7": ("J", "N"), "n": ("N", "J")}.items():
        fine.fill(key)
        fine.press("Tab")
        expect(fine).to_have_value(one)
        expect(wrong).to_have_value(other)
    page.goto(walk)
    page.keyboard.press("f")
    page.keyboard.press("j")
    expect(page.get_by_role("radiogroup", name="What is wrong?")).to_be_visible()


@pytest.mark.django_db(transaction=True)
def test_keys_find_move_and_answer_hide_nothing_and_can_be_turned_off(open_page, tech, school):
    instrument, *_ = [make_instrument(school=school) for _ in range(24)]
    page = open_page(user=tech, viewport=DESK)
    find = page.get_by_role("textbox", name="Find an instrument, student, loan or job")

    page.goto(reverse("inventory:list"))
    page.keyboard.press("Control+/")
    expect(find).not_to_be_focused()
    page.keyboard.press("/")
    expect(find).to_be_focused()
    page.keyboard.type("/f")
    expect(find).to_have_value("/f")
    rows = page.locator("tbody tr")
    rows.first.get_by_role("link").first.focus()
    for key, row in [("ArrowDown", 1), ("ArrowDown", 2), ("ArrowUp", 1), ("End", rows.count() - 1), ("Home", 0)]:
        page.keyboard.press(key)
        expect(rows.nth(row).get_by_role("link").first).to_be_focused()

    page.goto(f"{reverse('inventory:inspect', args=[instrument.asset_number])}?purpose=intake")
    with page.expect_navigation():
        page.keyboard.press("y")
    walk = page.url
    heading = page.locator("[data-stop]:not([hidden]) h1")
    expect(heading).to_be_focused()
    page.locator("body").dispatch_event("keydown")  # no key: so Chromium says that it filled in a field by itself
    page.keyboard.press("Tab")
    assert page.evaluate(FOCUSED) == "To the answers"
    page.keyboard.press("Enter")
    assert page.evaluate(FOCUSED) == "Fine"
    page.keyboard.press("n")
    faults = page.locator("[data-stop]:not([hidden]) .fault-name input")
    for key, number in [("ArrowDown", 1), ("ArrowDown", 2), ("ArrowUp", 1)]:
        page.keyboard.press(key)
        expect(faults.nth(number)).to_be_focused()
        expect(faults.nth(number)).not_to_be_checked()
    page.keyboard.press("Enter")
    expect(faults.nth(1)).to_be_checked()

    for size in (PHONE, DESK):
        page.set_viewport_size(size)
        for address in (reverse("inventory:list"), walk, reverse("desk:instrument", args=[instrument.asset_number])):
            page.goto(address)
            for _ in range(TABS):
                page.keyboard.press("Tab")
                assert page.evaluate(HIDDEN) == "", (address, size)

    change_keys(page, walk)
    page.goto(reverse("core:me"))
    page.get_by_role("checkbox", name="Single keys").uncheck()
    page.goto(walk)
    before = heading.inner_text()
    page.keyboard.press("n")
    page.keyboard.press("f")
    page.keyboard.press("/")
    page.wait_for_timeout(BETWEEN_TAPS_MS)
    expect(heading).to_have_text(before, use_inner_text=True)
    expect(find).not_to_be_focused()
    expect(page.locator("kbd")).to_have_count(0)
