"""Every page of the permission matrix, on a phone and at a desk: axe finds nothing, nothing overflows, targets are large.

Outside checks: axe-core's rules (WCAG 2.2 A and AA and its best practices); target size from WCAG 2.2, success
criterion 2.5.8 (24 px at least) and 2.5.5 (44 px, which the house asks of what one presses on a phone).
"""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import get_resolver, reverse

from inventory.models import Role
from tests.factories import make_user
from tests.flows.test_lost_entries import LOSSES, NOT_FOUND, lose
from tests.permission_matrix import all_rows, holders_of
from tests.plugins.browser import DESK, PHONE
from tests.test_docs import addresses

NOT_A_PAGE = {
    "core:health": "JSON",
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
SMALLEST = 44  # CSS pixels, in one direction at least; links within a sentence are left out as WCAG leaves them out
TOO_SMALL = """() => [...document.querySelectorAll('main button, main select, main input:not([type=hidden]), .bar a, .top a.scan-link, summary')]
  .filter(one => one.checkVisibility() && !one.closest('label') && !one.closest('svg'))
  .map(one => [one.outerHTML.slice(0, 90), one.getBoundingClientRect()])
  .filter(([, box]) => box.width && box.height && Math.max(box.width, box.height) < %d)
  .map(([html]) => html)"""


@pytest.fixture
def everybody(school):
    """One person with every role, so that every page opens."""
    user = make_user(Role.DIRECTOR, school=school, username="everybody", name="Every Body")
    for role in (Role.TECH, Role.AUDITOR, Role.ADMINISTRATOR):
        user.staff_roles.create(role=role)
    return user


def flaws_of(page, address: str, *, axe_at=(PHONE, DESK)) -> list[str]:
    """Return what is wrong with the page at the address, on a phone and at a desk; nothing of what is no HTML.

    It is one document at both sizes, so that axe, which takes longest, need not read it twice.
    """
    answer = page.request.get(address)
    if "text/html" not in answer.headers.get("content-type", ""):
        return []  # a PDF, a photo, a list to download
    page.goto(address)
    flaws = []
    for size in (PHONE, DESK):
        page.set_viewport_size(size)  # the same page wider: nothing of ours asks for more than the width
        found = (
            Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"] if size in axe_at else []
        )
        flaws += [
            f"{one['id']}: {one['help']} {[node['html'][:160] for node in one['nodes'][:3]]} at {size['width']}"
            for one in found
        ]
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        flaws += [f"{wide} px too wide at {size['width']}"] if wide > 0 else []
        flaws += [f"too small: {html}" for html in page.evaluate(TOO_SMALL % SMALLEST)]
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
    assert flaws_of(open_page(user=make_user(role, school=school)), address) == []


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
