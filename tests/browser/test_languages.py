"""Pages in Spanish, and in a language that needs a third more room everywhere: nothing bursts, nothing is cut off.

Outside checks: axe-core's rules; room for translations of 30 to 40 %, as published guides to translation ask.
"""

from __future__ import annotations

import pytest
from django.urls import reverse

from inventory.catalog.load import _catalog_with
from inventory.catalog.load.language import _words
from inventory.tables import verdict_badge
from tests import sizes
from tests.browser.test_accessibility import EVERY_DAY, PAGES, SHOWN, flaws_of, is_a_page
from tests.plugins.browser import DESK
from tests.pseudo import write_pseudo

SPANISH = {"locale": "es-MX"}
REMEMBERED = (_words, _catalog_with, verdict_badge)  # by language
AT = (sizes.Size(320, 640), sizes.PHONE)
DAILY = ("desk:today", "inventory:list", "desk:instrument", "repairs:job")
# Words that end within their box, or are drawn past it: a box that scrolls, and one that ends a long name by itself, may.
CUT = """() => [...document.querySelectorAll('body *')].filter((one) => {
  const style = getComputedStyle(one);
  return one.checkVisibility() && style.display !== 'inline' && one.clientWidth > 0 && one.scrollWidth > one.clientWidth + 1
    && !/auto|scroll/.test(style.overflowX) && style.textOverflow !== 'ellipsis' && style.clipPath === 'none' && !one.closest('.visually-hidden, svg, thead, select, textarea, code')
    && [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
}).map((one) => `cut: ${one.outerHTML.replace(/\\s+/g, ' ').slice(0, 120)}`)"""


@pytest.fixture(scope="session")
def pseudo_folder(tmp_path_factory):
    return write_pseudo(tmp_path_factory.mktemp("pseudo"))


@pytest.fixture
def longer_language(settings, pseudo_folder):
    """Spanish is the longer language until the test ends."""
    settings.LOCALE_PATHS = [pseudo_folder]
    for one in REMEMBERED:
        one.cache_clear()
    yield
    for one in REMEMBERED:
        one.cache_clear()


def bursts(open_page, name, *, user, school) -> list[str]:
    row = PAGES[name]
    address, user = reverse(name, args=row.make(school)), user if row.permission else None
    page = open_page(user=user, **SPANISH)
    if not is_a_page(page, address):
        return []
    flaws = []
    for shown, at in ((page, AT), (open_page(user=user, viewport=DESK, **SPANISH), (sizes.DESK,))):
        shown.goto(address)
        for size in at:
            flaws += [*sizes.misfits(shown, (size,)), *(f"{flaw} at {size}" for flaw in shown.evaluate(CUT))]
    # How high bars may be is asked of what people read (test_sizes.py).
    return [f"{name}: {flaw}" for flaw in flaws if not flaw.startswith("bars take")]


@pytest.mark.django_db(transaction=True)
def test_the_main_pages_hold_a_language_a_third_longer(open_page, everybody, school, longer_language):
    flaws = [flaw for name in DAILY for flaw in bursts(open_page, name, user=everybody, school=school)]
    assert not flaws, "\n".join(flaws)


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("name", sorted(set(SHOWN) - set(DAILY)))
def test_a_page_holds_a_language_a_third_longer(name, open_page, everybody, school, longer_language):
    flaws = bursts(open_page, name, user=everybody, school=school)
    assert not flaws, "\n".join(flaws)


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("name", EVERY_DAY)
def test_a_page_in_spanish_is_accessible(name, open_page, everybody, school):
    row = PAGES[name]
    page = open_page(user=everybody if row.permission else None, **SPANISH)
    assert flaws_of(page, reverse(name, args=row.make(school))) == []
