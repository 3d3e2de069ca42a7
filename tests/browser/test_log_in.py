"""The log-in as a person meets it: the first password, a passkey, an app with codes, recovery codes, a link."""

from __future__ import annotations

import re

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from core import second_steps as steps
from core.models import User
from core.services.accounts import make_link
from inventory.models import District
from tests.core.services.test_second_steps import code_now
from tests.factories import PASSWORD, make_district
from tests.plugins.browser import DESK, PHONE

GOOD = "seven-quiet-mutes"


def log_in(page, password=PASSWORD):
    page.goto("/log-in/")
    page.get_by_label("User name").fill("director")
    page.get_by_label("Password").fill(password)
    with page.expect_navigation():
        page.get_by_role("button", name="Log in").click()


def log_out(page):
    page.context.clear_cookies()


@pytest.fixture
def with_authenticator():
    """Give the page's browser an authenticator that says yes, like a phone's own."""

    def give(page):
        session = page.context.new_cdp_session(page)
        session.send("WebAuthn.enable")
        options = {
            "protocol": "ctap2",
            "transport": "internal",
            "hasUserVerification": True,
            "isUserVerified": True,
            "automaticPresenceSimulation": True,
        }
        session.send("WebAuthn.addVirtualAuthenticator", {"options": options})

    return give


@pytest.mark.parametrize("viewport", [PHONE, pytest.param(DESK, marks=pytest.mark.drill)], ids=["phone", "desk"])
def test_a_passkey_is_made_and_opens_the_log_in(transactional_db, director, open_page, with_authenticator, viewport):
    page = open_page(viewport=viewport)
    with_authenticator(page)
    log_in(page)
    page.goto("/me/")
    page.get_by_role("link", name="Add a passkey").click()
    page.get_by_label("What is it kept on?").fill("Band room phone")
    page.get_by_role("button", name="Make the passkey").click()
    page.wait_for_url("**/me/recovery-codes/")
    expect(page.locator(".recovery-codes li")).to_have_count(10)
    page.get_by_role("link", name="I have them").click()
    page.get_by_text("Passkey: Band room phone").first.wait_for()
    log_out(page)
    log_in(page)
    page.wait_for_url("**/log-in/second-step/")
    page.get_by_role("button", name="Use your passkey").click()
    page.wait_for_url(re.compile(r"//[^/]+/$"))
    page.get_by_role("heading", level=1).wait_for()


def test_a_browser_that_refuses_says_so_and_the_code_still_works(transactional_db, director, open_page):
    page = open_page()
    codes = steps.make_recovery_codes(director)
    secret = steps.new_secret()
    steps.add_app(director, secret=secret, counter=0)
    log_in(page)
    page.wait_for_url("**/log-in/second-step/")
    assert page.get_by_role("button", name="Use your passkey").count() == 0
    page.get_by_label("Code", exact=True).fill("000000")
    page.get_by_role("button", name="Go on").click()
    page.get_by_text("That did not match").wait_for()
    page.get_by_label("Code", exact=True).fill(codes[0])
    page.get_by_role("button", name="Go on").click()
    page.wait_for_url(re.compile(r"//[^/]+/$"))


def test_an_app_is_set_up_by_key_and_code(transactional_db, director, open_page):
    page = open_page()
    log_in(page)
    page.goto("/me/")
    page.get_by_role("link", name="Set up an app with codes").click()
    page.locator(".qr-box svg").wait_for()
    key = page.locator("code").first.inner_text().replace(" ", "")
    page.get_by_label("Code that the app shows now").fill(code_now(key))
    page.get_by_role("button", name="Set up").click()
    page.wait_for_url("**/me/recovery-codes/")
    page.reload()
    assert page.url.endswith("/me/"), "shown once"


def test_the_first_password_leads_to_choosing_ones_own(transactional_db, director, open_page):
    User.objects.filter(pk=director.pk).update(password_is_first=True)
    page = open_page()
    log_in(page)
    page.wait_for_url("**/me/password/")
    page.goto("/loans/")
    page.wait_for_url("**/me/password/")
    page.get_by_label("New password", exact=True).fill(GOOD)
    page.get_by_label("New password again").fill(GOOD)
    page.get_by_role("button", name="Save password").click()
    page.wait_for_url(re.compile(r"//[^/]+/$"))
    page.get_by_text("Password chosen").wait_for()


def test_a_role_that_needs_a_second_step_is_led_to_it(transactional_db, director, open_page, with_authenticator):
    make_district()
    District.objects.update(second_step_roles=["director"])
    User.objects.filter(pk=director.pk).update(second_step_due=True)
    page = open_page()
    with_authenticator(page)
    log_in(page)
    page.wait_for_url("**/me/")
    page.get_by_text("Your role needs a second step").wait_for()
    page.get_by_role("link", name="Add a passkey").click()
    page.get_by_role("button", name="Make the passkey").click()
    page.wait_for_url("**/me/recovery-codes/")
    page.goto("/loans/")
    assert page.url.endswith("/loans/")


def test_a_link_sets_a_new_password(transactional_db, director, administrator, open_page):
    token = make_link(user=director, actor=administrator, at=timezone.now())
    page = open_page()
    page.goto(f"/log-in/link/{token}/")
    page.get_by_label("New password", exact=True).fill("aaaaaaaaaaaa")
    page.get_by_label("New password again").fill("aaaaaaaaaaaa")
    page.get_by_role("button", name="Set password").click()
    page.get_by_text("repeats the same few characters").wait_for()
    page.get_by_label("New password", exact=True).fill(GOOD)
    page.get_by_label("New password again").fill(GOOD)
    page.get_by_role("button", name="Set password").click()
    page.wait_for_url("**/log-in/")
    log_in(page, GOOD)
    page.wait_for_url(re.compile(r"//[^/]+/$"))


@pytest.mark.parametrize("viewport", [PHONE, pytest.param(DESK, marks=pytest.mark.drill)], ids=["phone", "desk"])
def test_a_students_wrong_tries_keep_the_director_out_of_a_new_device_alone(
    transactional_db, director, open_page, viewport
):
    """All from one address, as at a school."""
    own, student, new = open_page(viewport=viewport), open_page(), open_page(viewport=viewport)
    log_in(own)
    own.wait_for_url(re.compile(r"//[^/]+/$"))
    own.context.clear_cookies(name="sessionid")
    for _ in range(5):
        log_in(student, "wrong")
        student.get_by_text("Wrong user name or password").first.wait_for()
    log_in(new)
    new.get_by_role("heading", name="Too many wrong tries").wait_for()
    new.get_by_text(re.compile(r"Try again (at|on) .*\d:\d\d [AP]M")).wait_for()
    log_in(own)
    own.wait_for_url(re.compile(r"//[^/]+/$"))
    token = make_link(user=director, actor=None, at=timezone.now())
    new.goto(f"/log-in/link/{token}/")
    new.get_by_label("New password", exact=True).fill(GOOD)
    new.get_by_label("New password again").fill(GOOD)
    new.get_by_role("button", name="Set password").click()
    new.wait_for_url("**/log-in/")
    log_in(new, GOOD)
    new.wait_for_url(re.compile(r"//[^/]+/$"))
