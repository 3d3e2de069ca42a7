"""What waits on the device: kept for one person, opened by nobody else, gone after its time."""

from __future__ import annotations

import json
import re

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from inventory.models import Role, StaffRole
from loans.models import Loan, Student
from loans.services.agreements import write_terms
from tests.factories import NOW
from tests.plugins.browser import PHONE, Watch, filled_in, log_in, until
from tests.plugins.device import (
    ADDRESS_ALONE,
    DUMP,
    KEYS,
    ROWS,
    SECRET,
    begun_walk,
    end_sessions,
    enter,
    fill_lending,
    keep_new_student,
    lend_page,
    lend_without_a_session,
    lending_of,
    log_out,
    open_menu,
    row_count,
    wait_kept,
)
from tests.plugins.hand import Finger


def test_a_session_that_ends_while_lending_loses_nothing(ready_to_lend, director, open_page):
    page = open_page(user=director)
    lend_page(page, ready_to_lend)
    was = fill_lending(page)
    lend_without_a_session(page)
    page.get_by_text("Something is not sent yet").wait_for()
    enter(page, director)
    filled_in(page)
    assert "/lend/" in page.url
    assert "was not saved. It is filled in again" in page.locator("[data-filled-in-says]").inner_text()
    assert lending_of(page) == was, "student, counts, signatures, and the key of the form"
    assert page.get_by_role("combobox", name="Student").input_value().startswith("Reed, Robin")
    drawn = """() => { const c = document.querySelector('canvas[data-for="id_student_signature"]');
        return c.getContext('2d').getImageData(0, 0, c.width, c.height).data.some((v, i) => i % 4 === 3 && v > 0); }"""
    page.wait_for_function(drawn)
    page.get_by_role("button", name="Lend it").tap()
    page.wait_for_url("**/loans/*/")
    assert Loan.objects.get().student.name == "Robin Reed"
    filled_in(page)
    assert row_count(page) == 0, "the server has it"


def test_another_person_neither_sees_nor_sends_it(ready_to_lend, director, tech, open_page, school):
    StaffRole.objects.create(user=tech, role=Role.DIRECTOR, school=school)
    page = open_page(user=director)
    lend_page(page, ready_to_lend)
    fill_lending(page)
    lend_without_a_session(page)
    enter(page, tech)
    filled_in(page)
    assert "/lend/" in page.url
    assert page.locator("#id_student").input_value() == ""
    assert page.locator("#id_student_signature").input_value() == ""
    assert page.locator("[data-filled-in-says]").count() == 0
    log_out(page)
    page.wait_for_url("**/log-in/**")  # without a question: nothing of theirs waits
    page.get_by_text("Something is not sent yet").wait_for()
    assert Loan.objects.count() == 0
    enter(page, director)
    lend_page(page, ready_to_lend)
    assert page.locator("#id_student").input_value() != "", "it is still there for the one who typed it"


def test_on_the_disk_it_is_encrypted_with_a_key_that_no_script_can_take_away(ready_to_lend, director, open_page):
    page = open_page(user=director)
    keep_new_student(page, ready_to_lend)
    found = page.evaluate(DUMP)
    assert found["local"] == {}
    assert set(found["session"]) <= ADDRESS_ALONE
    assert found["caches"] == []
    assert SECRET not in json.dumps(found)
    assert "Lend" not in json.dumps(found), "nor on what page it was typed"
    (row,) = found["databases"][ROWS]
    assert set(row) == {"id", "person", "kind", "until", "iv", "data"}
    (key,) = found["databases"][KEYS]
    assert key["open"] == {"algorithm": "AES-GCM", "canExport": False, "usages": ["encrypt", "decrypt"]}
    assert key["half"] == {"algorithm": "HKDF", "canExport": False, "usages": ["deriveKey"]}


def test_the_log_in_page_locks_it(ready_to_lend, director, open_page):
    page = open_page(user=director)
    keep_new_student(page, ready_to_lend)
    end_sessions()
    page.goto(reverse("core:log-in"))
    page.get_by_text("Something is not sent yet").wait_for()
    page.wait_for_timeout(300)
    (key,) = page.evaluate(DUMP)["databases"][KEYS]
    assert set(key) == {"person", "half"}, "what is left opens nothing without the server's half"


OPEN = """async (pages) => {
  Object.assign(document.body.dataset, pages);
  const store = await import(`/static/js/device-store.js?${Math.random()}`);
  return (await store.kept("form")).map((row) => row.values.new_name[0]);
}"""


def test_a_page_without_a_signal_opens_it_for_a_set_time(ready_to_lend, director, open_page):
    """As a page from a cache would: it knows the person, and has nothing of the server's."""
    page = open_page(user=director)
    keep_new_student(page, ready_to_lend)
    bare = {"person": str(director.pk), "seal": "", "hours": "72"}
    page.goto("/healthz")  # a page without a script of ours
    assert page.evaluate(OPEN, bare) == [SECRET]
    assert page.evaluate(OPEN, bare | {"person": str(director.pk + 1)}) == []
    later = f"(pages) => {{ const now = Date.now; Date.now = () => now() + 73 * 3_600_000; return ({OPEN})(pages); }}"
    assert page.evaluate(later, bare) == []
    assert row_count(page) == 1, "past its time it is not shown; the next page of ours deletes it"
    page.clock.install()
    page.clock.fast_forward(73 * 3_600_000)
    lend_page(page, ready_to_lend)
    assert page.get_by_label("Name", exact=True).input_value() == ""
    found = page.evaluate(DUMP)["databases"]
    assert found[ROWS] == []


def test_it_outlives_a_reload_without_a_signal(ready_to_lend, director, open_page):
    page = open_page(user=director)
    lend_page(page, ready_to_lend)
    was = fill_lending(page)
    wait_kept(page)
    page.wait_for_timeout(500)  # the last stroke too
    page.context.set_offline(True)
    with pytest.raises(Exception, match="ERR_INTERNET_DISCONNECTED"):
        page.reload()
    page.context.set_offline(False)
    lend_page(page, ready_to_lend)
    once = {name for name in was if name.startswith("nonce")}  # never sent: a form of its own
    assert {name: value for name, value in lending_of(page).items() if name not in once} == {
        name: value for name, value in was.items() if name not in once
    }
    assert "Filled in again with what you typed here" in page.locator("[data-filled-in-says]").inner_text()
    page.get_by_role("button", name="Start over").tap()
    expect(page.locator("#id_student")).to_have_value("")
    filled_in(page)
    assert row_count(page) == 0


OPEN_SENT = """async () => {
  const store = await import("/static/js/device-store.js");
  return (await store.kept("form")).filter((row) => row.isSent).map((row) => row.values.nonce[0]);
}"""


def test_a_lost_answer_counts_once(ready_to_lend, director, open_page):
    page = open_page(user=director)
    lend_page(page, ready_to_lend)
    fill_lending(page)
    key = page.locator("#lend [name=nonce]").input_value()

    def lose(route) -> None:
        if route.request.method != "POST":
            route.continue_()
            return
        route.fetch(max_redirects=0)  # the server has it
        page.context.clear_cookies(name=re.compile("saved-|messages"))  # taken from the answer that is lost now
        route.abort()  # the phone does not know
        lost.append(route.request.url)

    lost: list[str] = []
    page.route("**/lend/**", lose)
    page.get_by_role("button", name="Lend it").tap()
    until(page, lambda: bool(lost))
    page.unroute("**/lend/**")
    assert Loan.objects.count() == 1
    page.goto(reverse("desk:today"))
    filled_in(page)
    expect(page.locator(".notice", has_text="Not sent yet")).to_contain_text("Lend")
    told = page.evaluate(OPEN_SENT, {})
    assert told == [key], "sent again it would carry the same key"
    log_out(page)
    expect(page.locator("dialog")).to_contain_text("1 item is not sent yet")
    page.get_by_role("button", name="Send them first").tap()
    page.wait_for_url("**/log-in/**")
    assert Loan.objects.count() == 1


def test_what_the_address_asks_for_counts_more_than_what_was_typed_before(ready_to_lend, director, open_page):
    page = open_page(user=director)
    lend_page(page, ready_to_lend)
    fill_lending(page)
    wait_kept(page)
    page.wait_for_timeout(500)
    other = Student.objects.get(name="Player 03")
    page.goto(reverse("desk:lend-this", args=[ready_to_lend.asset_number]) + f"?student={other.pk}")
    filled_in(page)
    assert page.locator("#id_student").input_value() == str(other.pk)
    assert page.locator("#id_student_signature").input_value() == "", "nobody signs for somebody else"
    lend_page(page, ready_to_lend)
    assert page.get_by_role("combobox", name="Student").input_value().startswith("Reed, Robin")


def test_a_page_open_too_long_is_filled_in_again(ready_to_lend, director, open_page):
    page = open_page(user=director)
    lend_page(page, ready_to_lend)
    was = fill_lending(page)
    end_sessions()
    other = page.context.new_page()  # logs in again in another tab: the first one's form is of the old log-in
    other.goto(reverse("core:log-in"))
    enter(other, director)
    page.get_by_role("button", name="Lend it").tap()
    page.get_by_role("heading", name="This page was open too long").wait_for()
    page.get_by_text("Something is not sent yet").wait_for()
    page.get_by_role("link", name="Open the page again").tap()
    filled_in(page)
    assert lending_of(page) == was


def test_nobody_signs_terms_that_were_not_on_the_page(ready_to_lend, director, open_page):
    page = open_page(user=director)
    lend_page(page, ready_to_lend)
    fill_lending(page)
    lend_without_a_session(page)
    write_terms(text="Other terms altogether.", actor=director, at=NOW)
    enter(page, director)
    filled_in(page)
    assert page.locator("#id_student").input_value() != ""
    assert (
        page.locator("#id_student_signature").input_value()
        == page.locator("#id_guardian_signature").input_value()
        == ""
    )
    assert "read them and sign again" in page.locator("[data-filled-in-more]").inner_text()


def test_over_plain_http_nothing_is_written_down_and_the_page_says_so(
    ready_to_lend, tech, launch, live_server, settings
):
    """A name that is not this machine's: to the browser the address is not secure, as in a school's own network."""
    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, "horns.test"]
    home = live_server.url.replace("localhost", "horns.test")
    watch = Watch(home=home)
    browser = launch("--host-resolver-rules=MAP horns.test 127.0.0.1")
    try:
        context = browser.new_context(base_url=home, viewport=PHONE, has_touch=True)
        context.set_default_timeout(15_000)
        context.on("page", watch.follow)
        log_in(context, user=tech, home=home)
        page = context.new_page()
        page.goto(reverse("inventory:play-test", args=[ready_to_lend.asset_number]))
        assert page.evaluate("[isSecureContext, typeof crypto.subtle]") == [False, "undefined"]
        filled_in(page)
        assert "Nothing is kept on this device" in page.inner_text("main")
        page.get_by_role("button", name="C4: speaks").tap()
        page.wait_for_timeout(600)
        draft = begun_walk(ready_to_lend, tech)
        page.goto(reverse("inventory:walk", args=[draft.pk]))
        filled_in(page)
        context.set_offline(True)
        Finger(page).tap("Fine")
        page.locator("[data-saved]", has_text="1 not sent yet: keep this page open").wait_for()
        assert "keep this page open" in page.locator(".offline-note").inner_text().lower()
        assert page.evaluate("indexedDB.databases()") == []
        assert page.evaluate("localStorage.length") == 0
        assert set(page.evaluate("Object.keys(sessionStorage)")) <= ADDRESS_ALONE
        context.set_offline(False)
        page.locator("[data-saved]", has_text="Every tap is saved").wait_for()
        assert draft.looks.count() == 1
        open_menu(page)
        page.locator(".menu-sheet").get_by_role("button", name="Log out").tap()
        page.wait_for_url("**/log-in/**")
    finally:
        browser.close()
    assert watch.errors == []
