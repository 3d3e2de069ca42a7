"""What a browser is asked for besides size: colors of the reader's own, no motion, a screen that stays on, a page that stands still.

Outside checks: WCAG 2.2, success criteria 1.4.11 (what is chosen is seen, whatever the colors) and 2.3.3 (motion can be done
without); Core Web Vitals, layout shift: 0.1 is good, the house asks for 0.02.
"""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests.browser.test_accessibility import axe_finds
from tests.desk.views.test_look import read_again
from tests.factories import make_instrument
from tests.plugins.browser import DESK, PHONE, until
from tests.repairs.makers import make_job

MOST_SHIFT = 0.02
GLOVED = 52  # CSS pixels: a thumb in a work glove, common practice, no source
SHIFTS = """new PerformanceObserver((list) => {
  for (const shift of list.getEntries()) if (!shift.hadRecentInput) window.shifted = (window.shifted ?? 0) + shift.value;
}).observe({ type: 'layout-shift', buffered: true });"""
MOVES = """() => [...document.querySelectorAll('*')].filter((one) => {
  const { animationName, transitionDuration } = getComputedStyle(one);
  return animationName !== 'none' || /[1-9]/.test(transitionDuration);
}).map((one) => one.outerHTML.slice(0, 80))"""
CHOSEN = """() => ['.chip:has(:checked)', '.answers > button', '.btn-main', '.notice'].filter((name) => {
  const { borderTopStyle, outlineStyle } = getComputedStyle(document.querySelector(name));
  return borderTopStyle === 'none' && outlineStyle === 'none';
})"""
# Pieces that stand on a page once, or within another, stand here beside each other.
ONCE = ("heading-order", "landmark-unique", "listitem", "page-has-heading-one", "region")


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_the_look_and_the_main_pages_stand_still(open_page, settings, everybody, school):
    settings.DEBUG = True
    settings.ROOT_URLCONF = read_again()
    job = make_job(school=school)
    make_instrument(school=school)
    addresses = [
        "/look/",
        reverse("desk:today"),
        reverse("inventory:list"),
        reverse("desk:instrument", args=[job.instrument.asset_number]),
        reverse("repairs:job", args=[job.pk]),
        reverse("loans:list"),
        reverse("desk:season-plan"),
    ]
    moved = []
    for size in (PHONE, DESK):
        page = open_page(user=everybody, viewport=size)
        page.add_init_script(SHIFTS)
        for address in addresses:
            page.goto(address, wait_until="networkidle")
            shifted = page.evaluate("window.shifted ?? 0")
            moved += [(address, size["width"], shifted)] if shifted > MOST_SHIFT else []
    assert moved == []


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_the_look_holds_in_colors_of_the_readers_own_and_without_motion(open_page, settings, everybody):
    settings.DEBUG = True
    settings.ROOT_URLCONF = read_again()
    page = open_page(user=everybody, viewport=DESK)
    page.goto(reverse("inventory:list"))
    assert page.evaluate(MOVES), "the bar comes while one scrolls"
    page.emulate_media(reduced_motion="reduce")
    assert page.evaluate(MOVES) == []
    page = open_page(user=everybody)
    page.goto("/look/")
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce", forced_colors="none")
        assert page.evaluate(MOVES) == []
        assert [flaw for flaw in axe_finds(page) if not flaw.startswith(ONCE)] == []
        page.emulate_media(color_scheme=scheme, forced_colors="active")
        assert page.evaluate(CHOSEN) == []


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_the_screen_stays_on_while_a_step_is_timed_and_a_glove_finds_the_answers(open_page, tech, school):
    job = make_job(school=school)
    page = open_page(user=tech)
    page.add_init_script(
        "navigator.wakeLock.request = async (what) => { window.asked = [...(window.asked ?? []), what]; };"
    )
    address = reverse("repairs:job", args=[job.pk])
    page.goto(address)
    page.wait_for_load_state("networkidle")
    assert page.evaluate("window.asked") is None
    with page.expect_navigation():
        page.get_by_role("button", name="Start clock").click()
    page.locator("[data-since]").wait_for()
    until(page, lambda: page.evaluate("window.asked"))
    assert page.evaluate("window.asked") == ["screen"]
    for size in (PHONE, {"width": 780, "height": 360}):
        page.set_viewport_size(size)
        heights = [button.bounding_box()["height"] for button in page.locator(".answer-bar .btn").all()]
        assert heights
        assert min(heights) >= GLOVED, size
