"""Each long form, filled in on a phone whose session then ends: sent, logged in again, and there it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from loans.services.agreements import terms_in_force
from tests.factories import NOW, make_instrument
from tests.loans.makers import make_loan
from tests.pictures import jpeg
from tests.plugins.browser import filled_in
from tests.plugins.device import begun_walk, end_sessions, enter
from tests.plugins.hand import Finger
from tests.repairs.makers import make_job, make_school_bench
from tests.repairs.money_makers import make_shop

if TYPE_CHECKING:
    from playwright.sync_api import Page

WORDS = 'It sticks, "badly" <b>'


def add_instrument(school):
    return "director", reverse("inventory:add"), "#add", "[name=serial]"


def edit_instrument(school):
    instrument = make_instrument(school=school)
    return "director", reverse("inventory:edit", args=[instrument.asset_number]), "#edit", "[name=model]"


def take_back(school):
    make_school_bench(school)
    loan = make_loan(school=school)
    return "director", reverse("desk:take-back", args=[loan.instrument.asset_number]), "#take-back", "[name=because]"


def play_test(school):
    instrument = make_instrument(school=school)
    return "tech", reverse("inventory:play-test", args=[instrument.asset_number]), "#play-test", "[name=note]"


def order_to_a_shop(school):
    instrument = make_instrument(school=school)
    make_shop()
    return "director", reverse("repairs:ask-shop", args=[instrument.asset_number]), "main form.form", "textarea"


def terms(school):
    terms_in_force(at=NOW)
    return "administrator", reverse("loans:change-terms"), "main form.form", "textarea"


def add_student(school):
    return "director", reverse("loans:add-student"), "main form.form", "[name=name]"


def work_step(school):
    job = make_job(school=school)
    return "tech", reverse("repairs:job", args=[job.pk]), "#step", "[name=note]"


LONG = [add_instrument, edit_instrument, take_back, play_test, order_to_a_shop, terms, add_student, work_step]


def log_in_again(page: Page, user) -> None:
    page.wait_for_url("**/log-in/**")
    page.get_by_text("Something is not sent yet").wait_for()
    enter(page, user)
    filled_in(page)


def send(page: Page, form: str) -> None:
    """Send the form as its own button does, wherever on the page that is."""
    page.eval_on_selector(form, "(one) => one.requestSubmit()")


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("made", LONG, ids=lambda made: made.__name__)
def test_a_long_form_is_there_again_after_the_session_ended(made, open_page, school, request):
    name, address, form, field = made(school)
    user = request.getfixturevalue(name)
    page = open_page(user=user)
    page.goto(address)
    filled_in(page)
    typed = page.locator(f"{form} {field}").first
    typed.evaluate(
        "(one) => { for (let fold = one.closest('details'); fold; fold = fold.parentElement.closest('details')) fold.open = true; }"
    )
    typed.fill(WORDS)
    end_sessions()
    send(page, form)
    log_in_again(page, user)
    notice = page.locator("[data-filled-in-says]")
    assert "was not saved. It is filled in again" in notice.inner_text()
    expect(page.locator(f"{form} {field}").first).to_have_value(WORDS)
    expect(page.locator(f"{form} {field}").first).to_be_visible()


@pytest.mark.django_db(transaction=True)
def test_the_columns_of_a_list_are_there_again(open_page, director):
    page = open_page(user=director)
    page.goto(reverse("inventory:import"))
    lines = b"What,Number of it,Odd\nTrumpet,T-1,a\nFlute,F-1,b\n"
    page.set_input_files("[name=file]", {"name": "list.csv", "mimeType": "text/csv", "buffer": lines})
    page.get_by_role("button", name="Read the list").tap()
    page.locator("#columns").wait_for()
    filled_in(page)
    chosen = page.locator("#columns select").last
    value = chosen.locator("option").nth(2).get_attribute("value")
    chosen.select_option(value)
    end_sessions()
    send(page, "#columns")
    log_in_again(page, director)
    expect(page.locator("#columns select").last).to_have_value(value)


@pytest.mark.django_db(transaction=True)
def test_what_is_half_typed_about_a_part_of_a_walk_is_shown_there_again(open_page, tech, school):
    instrument = make_instrument(school=school)
    draft = begun_walk(instrument, tech)
    page = open_page(user=tech)
    page.goto(reverse("inventory:walk", args=[draft.pk]))
    filled_in(page)
    finger = Finger(page)
    finger.tap("Fine")
    part = finger.at()
    finger.tap(page.get_by_role("link", name="Something is wrong"))
    finger.tap(finger.stop.locator(".fault-name").first)
    finger.tap(finger.stop.locator(".more summary"))
    finger.stop.locator("textarea").fill(WORDS)
    page.wait_for_timeout(600)
    end_sessions()
    page.reload()
    log_in_again(page, tech)
    assert finger.at() == part
    expect(finger.stop.locator("textarea")).to_have_value(WORDS)
    expect(finger.stop.locator("textarea")).to_be_visible()
    finger.tap(finger.stop.locator('.fault:has(:checked) button[value="light"]').first)
    page.locator("[data-saved]", has_text="Every tap").wait_for()
    assert draft.findings.get().note == WORDS
    page.reload()
    filled_in(page)
    assert page.locator("[data-filled-in-says]").count() == 0, "the server has it"


@pytest.mark.django_db(transaction=True)
def test_a_photo_is_there_again(open_page, director, school, tmp_path):
    picture = tmp_path / "bell.jpg"
    picture.write_bytes(jpeg())
    page = open_page(user=director)
    page.goto(reverse("inventory:add"))
    filled_in(page)
    page.locator("#add [name=serial]").fill("482913")
    page.set_input_files("#add input[type=file]", picture)
    end_sessions()
    send(page, "#add")
    log_in_again(page, director)
    size = "(one) => [one.files[0].name, one.files[0].size]"
    assert page.eval_on_selector("#add input[type=file]", size) == ["bell.jpg", picture.stat().st_size]


@pytest.mark.django_db(transaction=True)
def test_what_was_typed_says_where_it_waits_when_log_in_leads_elsewhere(open_page, director, school):
    page = open_page(user=director)
    page.goto(reverse("loans:add-student"))
    filled_in(page)
    page.locator("main [name=name]").fill("Robin Reed")
    page.wait_for_timeout(600)
    end_sessions()
    page.goto(reverse("desk:today"))
    log_in_again(page, director)
    notice = page.locator(".notice", has_text="Not sent yet")
    expect(notice).to_contain_text("Add a student")
    notice.get_by_role("link").tap()
    filled_in(page)
    expect(page.locator("main [name=name]")).to_have_value("Robin Reed")
    page.goto(reverse("desk:today"))
    filled_in(page)
    notice.get_by_role("button", name="Discard").tap()
    expect(notice).to_have_count(0)
    page.goto(reverse("loans:add-student"))
    filled_in(page)
    expect(page.locator("main [name=name]")).to_have_value("")


@pytest.mark.django_db(transaction=True)
def test_no_password_is_kept(open_page, administrator):
    page = open_page(user=administrator)
    page.goto(reverse("core:password"))
    filled_in(page)
    for one in page.locator("main [type=password]").all():
        one.fill(WORDS)
    page.wait_for_timeout(600)
    kept = """async () => (await (await import("/static/js/device-store.js")).kept("form")).length"""
    assert page.evaluate(kept) == 0
