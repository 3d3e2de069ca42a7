from __future__ import annotations

import time
from datetime import timedelta

import pytest
from django.http import HttpResponse
from django.test import Client

from core import devices
from core.devices import KNOWN_FOR, cookie_name, keep_device, known_device, source_of
from core.models import User
from core.services.accounts import choose_password, end_sessions, set_first_password
from inventory.services.people import set_active
from tests.factories import NOW, PASSWORD

pytestmark = pytest.mark.django_db
GOOD = "seven-quiet-mutes"


@pytest.fixture
def browser(rf, director):
    """A request of a browser on which the director has logged in."""
    response = HttpResponse()
    keep_device(rf.get("/"), response, director)
    return with_cookies(rf, response)


def with_cookies(rf, response):
    request = rf.get("/")
    request.COOKIES.update({name: one.value for name, one in response.cookies.items()})
    return request


def fresh(user):
    return User.objects.get(pk=user.pk)


def test_a_log_in_is_remembered_out_of_reach_of_scripts(client, director, settings):
    settings.SESSION_COOKIE_SECURE = True
    client.post("/log-in/", {"username": "director", "password": PASSWORD}, secure=True)
    kept = client.cookies[cookie_name("Director")]
    assert (kept["httponly"], kept["secure"], kept["samesite"]) == (True, True, "Strict")
    assert kept["max-age"] == KNOWN_FOR.total_seconds()
    assert "director" not in kept.key + kept.value
    client.post("/log-out/")
    assert client.cookies[cookie_name("director")].value == kept.value, "log-out forgets no device"


def test_a_wrong_password_and_a_password_without_its_second_step_are_not(director):
    client = Client()
    client.post("/log-in/", {"username": "director", "password": "wrong"})
    assert cookie_name("director") not in client.cookies


def test_it_is_known_for_its_person_in_any_spelling_and_for_nobody_else(browser, director, tech):
    assert known_device(browser, "director") == known_device(browser, "DIRECTOR") != ""
    browser.COOKIES[cookie_name("tech")] = browser.COOKIES[cookie_name("director")]
    assert known_device(browser, "tech") == ""
    assert known_device(browser, "nobody") == ""


def test_it_stays_the_same_device_at_every_log_in(rf, browser, director):
    response = HttpResponse()
    keep_device(browser, response, director)
    assert known_device(with_cookies(rf, response), "director") == known_device(browser, "director")


def ended(director, administrator):
    end_sessions(user=director, actor=administrator, at=NOW)


def chosen(director, administrator):
    choose_password(user=director, password=GOOD, old=PASSWORD, actor=director, at=NOW)


def given(director, administrator):
    set_first_password(user=director, password=GOOD, actor=administrator, at=NOW)


def deactivated(director, administrator):
    set_active(user=director, is_active=False, actor=administrator, at=NOW)


def reactivated(director, administrator):
    deactivated(director, administrator)
    set_active(user=fresh(director), is_active=True, actor=administrator, at=NOW)


@pytest.mark.parametrize("act", [ended, chosen, given, deactivated, reactivated])
def test_what_ends_sessions_makes_it_unknown(browser, director, administrator, act):
    act(director, administrator)
    assert known_device(browser, "director") == ""


def test_a_cookie_made_up_cut_or_too_old_is_none(browser, director, monkeypatch):
    name = cookie_name("director")
    good = browser.COOKIES[name]
    for made_up in ("", ".", "x" * 5000, good[:-1], good.partition(":")[0], "\x00", good.replace(".", "")):
        browser.COOKIES[name] = made_up
        assert known_device(browser, "director") == ""
    browser.COOKIES[name] = good
    assert known_device(browser, "director") != ""
    now = time.time()
    monkeypatch.setattr("time.time", lambda: now - timedelta(days=3).total_seconds())
    assert known_device(browser, "director") != "", "the clock was set back"
    monkeypatch.setattr("time.time", lambda: now + KNOWN_FOR.total_seconds() + 60)
    assert known_device(browser, "director") == ""


def test_names_are_looked_up_only_for_who_brings_a_cookie_of_ours(rf, browser, director, monkeypatch):
    """Otherwise the time it takes could tell which names exist."""
    asked = []
    monkeypatch.setattr(devices, "person_named", asked.append)
    forged = rf.get("/")
    forged.COOKIES[cookie_name("director")] = "a.b:c:d"
    for request in (rf.get("/"), forged):
        source_of(request, "director")
    assert asked == []
    source_of(browser, "director")
    assert asked == ["director"]


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("192.0.2.7", "192.0.2.8", set()),
        ("2001:db8::1", "2001:db8::2", {"network"}),
        ("2001:db8::1", "2001:db8:0:1::1", set()),
        ("::ffff:192.0.2.7", "192.0.2.7", {"address", "network"}),
        ("", "unix:", {"address", "network"}),
    ],
)
def test_a_source_is_hashed_and_says_what_two_tries_share(rf, one, other, same):
    found = [source_of(rf.get("/", REMOTE_ADDR=address), "Dana") for address in (one, other)]
    assert {column for column in ("address", "network") if len({getattr(row, column) for row in found}) == 1} == same
    assert all(len(value) == 32 for row in found for value in row[:3])
    assert found[0].device == ""


def test_a_request_without_an_address_and_a_huge_name_have_a_source(rf):
    request = rf.get("/")
    del request.META["REMOTE_ADDR"]
    assert len(source_of(request, "a" * 100_000).name) == 32
