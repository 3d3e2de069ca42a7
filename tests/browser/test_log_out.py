"""Log-out on a shared phone: first it offers to send what waits, then nothing of anybody stays in the browser."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.urls import reverse
from playwright.sync_api import expect

from loans.models import Student
from tests.pictures import jpeg
from tests.plugins.browser import FLAGS, PHONE, chromium_path, filled_in
from tests.plugins.device import (
    DUMP,
    SECRET,
    begun_walk,
    enter,
    fill_lending,
    lend_page,
    log_out,
    row_count,
    type_new_student,
)
from tests.plugins.hand import Finger, Hand


def test_logging_out_first_offers_to_send_what_waits(ready_to_lend, tech, open_page, tmp_path):
    draft = begun_walk(ready_to_lend, tech)
    page = open_page(user=tech)
    page.goto(reverse("inventory:walk", args=[draft.pk]))
    page.context.set_offline(True)
    finger = Finger(page)
    finger.tap("Fine")
    picture = tmp_path / "part.jpg"
    picture.write_bytes(jpeg())
    finger.tap(page.get_by_role("link", name="Something is wrong"))
    finger.tap(finger.stop.locator(".fault-name").first)
    finger.tap(finger.stop.locator(".more summary"))
    finger.stop.locator('input[type="file"]').set_input_files(picture)
    finger.tap(finger.stop.locator('.fault:has(:checked) button[value="light"]').first)
    finger.tap("Fine")
    page.locator("[data-saved]", has_text="3 kept on this phone").wait_for()
    page.goto("about:blank")
    page.context.set_offline(False)
    page.route("**/walk/**", lambda route: route.abort())
    page.goto(reverse("desk:today"))
    page.get_by_text("Saved on this phone: 3").tap()
    expect(page.locator("[data-sending-list]")).to_contain_text(ready_to_lend.asset_number)
    log_out(page)
    expect(page.locator("dialog")).to_contain_text("3 items are not sent yet")
    page.get_by_role("button", name="Stay logged in").tap()
    assert row_count(page) == 3
    log_out(page)
    page.unroute("**/walk/**")
    page.get_by_role("button", name="Send them first").tap()
    page.wait_for_url("**/log-in/**")
    assert (draft.looks.count(), draft.findings.count(), draft.photos.count()) == (2, 1, 1)


def test_logging_out_can_discard_and_leaves_nothing(ready_to_lend, director, open_page):
    page = open_page(user=director)
    page.goto(reverse("loans:students"))
    assert "Reed, Robin" in page.content()
    lend_page(page, ready_to_lend)
    fill_lending(page)
    assert page.eval_on_selector_all("form", "(all) => all.every((one) => one.autocomplete === 'off')")
    type_new_student(page)
    log_out(page)
    expect(page.locator("dialog")).to_contain_text("1 item is not sent yet")
    expect(page.locator("dialog")).to_contain_text("open it, finish it and save it")
    page.get_by_role("button", name="Log out and discard").tap()
    page.wait_for_url("**/log-in/**")
    found = page.evaluate(DUMP)
    assert found["local"] == found["session"] == {}
    assert not any(rows for rows in found["databases"].values())
    assert found["caches"] == []
    assert {cookie["name"] for cookie in page.context.cookies()} <= {"csrftoken", "messages"}
    page.go_back()
    page.wait_for_url("**/log-in/**")
    assert SECRET not in page.content()
    assert "Robin Reed" not in page.content()
    assert "Reed, Robin" not in page.content()


def test_without_a_signal_it_says_that_nobody_is_logged_out_and_does_it_when_the_signal_is_back(
    ready_to_lend, director, open_page
):
    page = open_page(user=director)
    page.goto(reverse("loans:students"))
    expect(page.locator("main")).to_contain_text("Reed, Robin")
    filled_in(page)
    page.context.set_offline(True)
    log_out(page)
    expect(page.get_by_role("alert")).to_contain_text("You are not logged out: no signal.")
    assert "Reed, Robin" not in page.content()
    page.context.set_offline(False)
    page.wait_for_url("**/log-in/**")
    assert settings.SESSION_COOKIE_NAME not in {cookie["name"] for cookie in page.context.cookies()}


def test_another_tab_of_the_person_is_emptied_too(ready_to_lend, director, open_page):
    page = open_page(user=director)
    lend_page(page, ready_to_lend)
    other = page.context.new_page()
    other.goto(reverse("desk:today"))
    filled_in(other)
    log_out(other)
    other.wait_for_url("**/log-in/**")
    page.wait_for_url("**/log-in/**")


def test_a_profile_on_the_disk_holds_no_students_name_after_log_out(
    ready_to_lend, director, playwright_driver, live_server, tmp_path
):
    """Every file of the browser's profile is read: history, form memory, session files, cache, stores."""
    folder = tmp_path / "profile"
    context = playwright_driver.chromium.launch_persistent_context(
        str(folder),
        executable_path=chromium_path(),
        args=FLAGS,
        ignore_default_args=["--disable-back-forward-cache"],  # a page one has left may be shown again as it was
        base_url=live_server.url,
        viewport=PHONE,
        has_touch=True,
    )
    context.set_default_timeout(15_000)
    page = context.pages[0]
    page.goto(reverse("desk:lend-this", args=[ready_to_lend.asset_number]))
    enter(page, director)
    filled_in(page)
    type_new_student(page)
    page.get_by_label("Grade").fill("6")
    page.get_by_label("Guardian's name").fill("Gale Quill")
    page.locator("label", has_text="All here").tap()
    hand = Hand(page)
    hand.sign("id_student_signature")
    hand.sign("id_guardian_signature")
    page.get_by_role("button", name="Lend it").tap()
    page.wait_for_url("**/loans/*/")
    page.goto(reverse("loans:students"))
    student = Student.objects.get(name=SECRET)
    assert student.sort_name in page.content()
    lend_page(page, ready_to_lend)
    log_out(page)
    page.wait_for_url("**/log-in/**")
    page.go_back()  # to the list of students
    page.wait_for_url("**/log-in/**")
    assert SECRET not in page.content()
    assert student.sort_name not in page.content()
    context.close()
    assert files_with(folder, reverse("loans:students")) != [], "the history is among what is read"
    assert files_with(folder, SECRET) == files_with(folder, student.sort_name) == []


def files_with(folder: Path, word: str) -> list[str]:
    wanted = [word.encode(), word.encode("utf-16-le")]
    return [
        str(path.relative_to(folder))
        for path in sorted(folder.rglob("*"))
        if path.is_file() and any(one in path.read_bytes() for one in wanted)
    ]
