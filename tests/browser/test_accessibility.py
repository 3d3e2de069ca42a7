"""Every page of the permission matrix: axe finds nothing, nothing overflows, targets are large. Daily a sample on a phone and at a
desk; in the drill each as each role sees it, in all surroundings.

Outside checks: axe-core's rules (WCAG 2.2 A and AA and its best practices); target size from WCAG 2.2, success
criterion 2.5.8 (24 px at least) and 2.5.5 (44 px, which the house asks of what one presses on a phone).
"""

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from django.urls import get_resolver, reverse

from tests.factories import make_user
from tests.flows.test_lost_entries import LOSSES, NOT_FOUND, lose
from tests.permission_matrix import all_rows, holders_of
from tests.plugins.browser import DESK, PHONE
from tests.test_docs import addresses

NOT_A_PAGE = {
    "core:health": "JSON",
    "core:work-line": "a fragment, swapped into the head of a page",
    "inventory:kind": "a part of the form to add an instrument, which is tried whole",
}
# Nothing is read of a file; the drill still asks for each as every role.
FILES = (".pdf", ".csv", ".xlsx", ".jpg", ".ics", ".txt", ".<str:form>")
ROUTES = dict(addresses(get_resolver()))
PAGES = {name: row for name, row in all_rows().items() if row.method == "get" and name not in NOT_A_PAGE}
SHOWN = [name for name in sorted(PAGES) if not ROUTES[name].endswith(FILES) and not name.startswith("api:")]
# Opened every day: one of five, and those that everybody uses. The drill opens each as each role.
MAIN = {
    "core:log-in",
    "desk:today",
    "desk:instrument",
    "desk:lend",
    "desk:give-back",
    "desk:season-plan",
    "inventory:list",
    "inventory:inspect",
    "inventory:walk-part",
    "loans:list",
    "repairs:job",
}
EVERY_DAY = [name for number, name in enumerate(SHOWN) if name in MAIN or number % 5 == 0]
HELD = (PHONE, {"width": 780, "height": 360}, {"width": 820, "height": 1180})
SMALLEST = 44  # CSS pixels, in one direction at least; links within a sentence are left out as WCAG leaves them out
TOO_SMALL = """() => [...document.querySelectorAll('main button, main select, main input:not([type=hidden]), .bar a, .top a.scan-link, summary')]
  .filter(one => one.checkVisibility() && !one.closest('label') && !one.closest('svg'))
  .map(one => [one.outerHTML.slice(0, 90), one.getBoundingClientRect()])
  .filter(([, box]) => box.width && box.height && Math.max(box.width, box.height) < %d)
  .map(([html]) => html)"""

# What is scrolled under a bar is no smaller for it, which axe does not know: the bar lies at the end of the page instead.
LIE_STILL = """() => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync('.bar { position: static !important; }');
  document.adoptedStyleSheets = [...document.adoptedStyleSheets, sheet];
}"""


def axe_finds(page) -> list[str]:
    """Return what axe finds on the page as it is now. It leaves the size of targets out unless asked."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
        page.evaluate(LIE_STILL)
    options = {"resultTypes": ["violations"], "rules": {"target-size": {"enabled": True}}}
    found = page.evaluate("(options) => axe.run(options)", options)["violations"]
    return [f"{one['id']}: {one['help']} {[node['html'][:160] for node in one['nodes'][:3]]}" for one in found]


def is_a_page(page, address: str) -> bool:
    """False for a PDF, a photo, a list to download."""
    return "text/html" in page.request.get(address).headers.get("content-type", "")


def flaws_of(page, address: str, *, axe_at=(PHONE, DESK)) -> list[str]:
    """Return what is wrong with the page at the address, on a phone and at a desk; nothing of what is no HTML.

    It is one document at both sizes, so that axe, which takes longest, need not read it twice.
    """
    if not is_a_page(page, address):
        return []
    page.goto(address)
    flaws = []
    for size in (PHONE, DESK):
        page.set_viewport_size(size)  # the same page wider: nothing of ours asks for more than the width
        flaws += [f"{flaw} at {size['width']}" for flaw in axe_finds(page)] if size in axe_at else []
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        flaws += [f"{wide} px too wide at {size['width']}"] if wide > 0 else []
        flaws += [f"too small: {html}" for html in page.evaluate(TOO_SMALL % SMALLEST)]
    return flaws


def flaws_everywhere(open_page, user, address: str) -> list[str]:
    """Return what axe finds by hand at three sizes and by mouse at a desk, each in light and in dark; what is too small a target."""
    flaws = []
    for viewport, sizes in ((PHONE, HELD), (DESK, (DESK,))):
        page = open_page(user=user, viewport=viewport)
        if not is_a_page(page, address):
            return []
        page.goto(address)
        flaws += [f"too small: {html}" for html in (page.evaluate(TOO_SMALL % SMALLEST) if viewport == PHONE else [])]
        for size in sizes:
            page.set_viewport_size(size)
            for scheme in ("light", "dark"):
                page.emulate_media(color_scheme=scheme)
                flaws += [f"{flaw} at {size['width']}, {scheme}" for flaw in axe_finds(page)]
    return flaws


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("name", EVERY_DAY)
def test_a_page_is_accessible_on_a_phone_and_at_a_desk(name, open_page, everybody, school):
    row = PAGES[name]
    address = reverse(name, args=row.make(school))
    assert flaws_of(open_page(user=everybody if row.permission else None), address, axe_at=[PHONE]) == []


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("name", "role"),
    [
        (name, role)
        for name, row in sorted(PAGES.items())
        if row.permission
        for role in sorted(holders_of(row.permission))
    ],
)
def test_a_page_is_accessible_as_each_role_sees_it(name, role, open_page, school):
    address = reverse(name, args=PAGES[name].make(school))
    flaws = flaws_everywhere(open_page, make_user(role, school=school), address)
    assert not flaws, "\n".join(flaws)


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("loss", sorted(LOSSES))
@pytest.mark.parametrize(
    "name", sorted(name for name, row in PAGES.items() if row.permission and name not in NOT_FOUND)
)
def test_a_page_is_accessible_after_the_catalog_lost_an_entry(name, loss, open_page, everybody, school):
    args = PAGES[name].make(school)
    lose(loss)
    assert flaws_of(open_page(user=everybody), reverse(name, args=args)) == []
