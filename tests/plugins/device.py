"""A browser that keeps things on its device: what it holds, and a person who lends, logs in and out on it."""

from __future__ import annotations

import re

import pytest
from django.contrib.sessions.models import Session
from django.urls import reverse

from inventory.models import Inspection, Instrument, Purpose
from inventory.services.inspecting import answer_safety, start_inspection
from tests.factories import NOW, PASSWORD, make_inspection, make_instrument, make_student
from tests.plugins.browser import filled_in, until
from tests.plugins.hand import Hand

SECRET = "Zephyrine Quill"  # a student's name, found nowhere else

# Everything that a script of this address can find in the browser: stores, rows of databases with their bytes, caches.
DUMP = """async () => {
  const text = (bytes) => [...new Uint8Array(bytes)].map((one) => String.fromCharCode(one)).join("");
  const told = (one) => one instanceof ArrayBuffer || ArrayBuffer.isView(one) ? text(one.buffer ?? one)
    : one instanceof CryptoKey ? { algorithm: one.algorithm.name, canExport: one.extractable, usages: one.usages } : one;
  const found = { local: { ...localStorage }, session: { ...sessionStorage }, databases: {}, caches: await caches.keys() };
  for (const { name } of await indexedDB.databases()) {
    const database = await new Promise((resolve) => {
      const asked = indexedDB.open(name);
      asked.onsuccess = () => resolve(asked.result);
    });
    for (const store of database.objectStoreNames) {
      const rows = await new Promise((resolve) => {
        const asked = database.transaction(store).objectStore(store).getAll();
        asked.onsuccess = () => resolve(asked.result);
      });
      found.databases[`${name}/${store}`] = rows.map((row) => (
        Object.fromEntries(Object.entries(row).map(([word, value]) => [word, told(value)]))));
    }
    database.close();
  }
  return found;
}"""
ADDRESS_ALONE = {"htmx-current-path-for-history"}  # of the page one is on, which names no student
ROWS, KEYS = "hornbook-device/rows", "hornbook-device/keys"
AGAIN_S = 6  # a page sends again after 5 s what did not get through


@pytest.fixture
def ready_to_lend(transactional_db, school):
    """A ready trumpet with its accessories, and students to choose from."""
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument)
    for number in range(7):
        make_student(school=school, name=f"Player {number:02d}")
    make_student(school=school, name="Robin Reed", guardian_name="Gale Reed")
    return instrument


def end_sessions() -> None:
    Session.objects.all().delete()


def enter(page, user) -> None:
    page.locator("[name=username]").fill(user.username)
    page.locator("[name=password]").fill(PASSWORD)
    with page.expect_navigation():  # the log-in page too has been loaded
        page.get_by_role("button", name="Log in").click()


def open_menu(page) -> None:
    page.locator("summary", has_text="Menu").tap()


def log_out(page) -> None:
    open_menu(page)
    page.locator(".menu-sheet").get_by_role("button", name="Log out").tap()


def lend_page(page, instrument):
    page.goto(reverse("desk:lend-this", args=[instrument.asset_number]))
    filled_in(page)


def fill_lending(page) -> dict[str, str]:
    """Choose, count, sign; return what the form then holds."""
    hand = Hand(page)
    hand.tap(page.get_by_role("combobox", name="Student"))
    hand.type("rob")
    hand.tap(page.get_by_role("option", name="Reed, Robin"))
    hand.tap(page.locator("label", has_text="All here"))
    hand.sign("id_student_signature")
    hand.sign("id_guardian_signature")
    return lending_of(page)


def lend_without_a_session(page) -> None:
    """Send the form once the session has ended, which leads to the log-in."""
    end_sessions()
    page.get_by_role("button", name="Lend it").tap()
    page.wait_for_url("**/log-in/**")


def type_new_student(page) -> None:
    page.locator("summary", has_text="Add a student").tap()
    page.get_by_label("Name", exact=True).fill(SECRET)


def keep_new_student(page, instrument) -> None:
    """Open the page that lends the instrument and type a new student, until the device keeps it."""
    lend_page(page, instrument)
    type_new_student(page)
    wait_kept(page)


def lending_of(page) -> dict[str, str]:
    names = "#lend [name]:not([name=csrfmiddlewaretoken]):not([type=file]):not([name=kept])"
    return page.eval_on_selector_all(
        names,
        "all => Object.fromEntries(all.map((one, at) => [`${one.name} ${at}`, one.type in {radio: 1, checkbox: 1} ? one.checked : one.value]))",
    )


def row_count(page) -> int:
    return len(page.evaluate(DUMP)["databases"].get(ROWS, []))


def wait_kept(page, count: int = 1) -> None:
    until(page, lambda: row_count(page) >= count)


def begun_walk(instrument: Instrument, actor) -> Inspection:
    draft = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=actor, at=NOW)
    answer_safety(inspection=draft, is_safe=True, actor=actor, at=NOW)
    return draft


def carried(page) -> None:
    """Open Today and wait until the phone keeps what it needs without a signal."""
    page.goto(reverse("desk:today"))
    page.locator("body[data-held]").wait_for()


@pytest.fixture
def phone(transactional_db, tech, open_page):
    def start(user=tech):
        page = open_page(user=user, service_workers="allow")
        carried(page)
        return page

    return start


def lose_each_answer_once(page, addresses: str) -> set[str]:
    """Let what is posted reach the server, and its first answer get lost; return the keys of what was posted."""
    lost: set[str] = set()

    def lose(route) -> None:
        key = re.search(r'name="key"\s+([0-9a-f-]{36})', route.request.post_data or "")
        if route.request.method != "POST" or key is None or key[1] in lost:
            route.continue_()
            return
        lost.add(key[1])
        route.fetch(max_redirects=0)
        route.abort()

    page.context.route(addresses, lose)
    return lost
