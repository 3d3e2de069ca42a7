"""Words that may be a name stand in the session, and the address has their key."""

from __future__ import annotations

from datetime import timedelta
from urllib.parse import parse_qs, urlsplit

import pytest
from django.contrib.sessions.models import Session
from django.urls import reverse
from django.utils import timezone

from core.forgetting import SEARCHES, SEARCHES_KEPT_FOR
from core.views.searching import MOST
from tests.factories import make_director, make_student

LIST = reverse("loans:students")


@pytest.fixture
def browser(client, director, school):
    make_student(school=school, name="Rosa Lindqvist")
    make_student(school=school, name="Ada Berg")
    client.force_login(director)
    return client


def key_of(address: str) -> str:
    return parse_qs(urlsplit(address).query).get("search", [""])[0]


def test_the_words_are_in_no_address_and_what_else_was_asked_is(browser):
    sent = browser.post(LIST, {"q": "  rosa   lind ", "state": "all", "sort": "-name", "page": "3"})
    assert sent.status_code == 302
    assert "rosa" not in sent.url.lower()
    assert parse_qs(urlsplit(sent.url).query).keys() == {"state", "sort", "search"}
    page = browser.get(sent.url)
    assert "Lindqvist, Rosa" in page.text
    assert "Berg, Ada" not in page.text
    assert 'value="rosa lind"' in page.text


def test_sorting_paging_reloading_and_going_back_keep_the_search(browser):
    first = browser.post(LIST, {"q": "rosa"}).url
    other = browser.post(LIST, {"q": "ada"}).url
    for address in (f"{first}&sort=-name", f"{first}&page=1", first):
        page = browser.get(address)
        assert "Lindqvist, Rosa" in page.text
        assert "Berg, Ada" not in page.text
    assert f"search={key_of(first)}" in browser.get(first).text  # the links that sort
    assert "Berg, Ada" in browser.get(other).text


def test_htmx_gets_the_table_alone(browser):
    sent = browser.post(LIST, {"q": "rosa"}, headers={"HX-Request": "true"}, follow=True)
    assert "Lindqvist, Rosa" in sent.text
    assert "<html" not in sent.text


def test_the_same_words_have_the_same_key_and_none_are_no_search(browser):
    assert browser.post(LIST, {"q": "rosa"}).url == browser.post(LIST, {"q": " rosa "}).url
    assert browser.post(LIST, {"q": " ", "search": "old", "state": "left"}).url == f"{LIST}?state=left"


def test_words_in_an_address_are_not_looked_for(browser):
    assert "Berg, Ada" in browser.get(LIST, {"q": "rosa"}).text


def test_a_key_of_which_nothing_is_kept_says_so_and_shows_the_list(browser):
    page = browser.get(LIST, {"search": "gone"})
    assert "Type it again" in page.text
    assert "Berg, Ada" in page.text


def test_some_searches_are_kept_and_none_after_logging_out(browser):
    first = browser.post(LIST, {"q": "rosa"}).url
    for number in range(MOST):
        browser.post(LIST, {"q": f"word {number}"})
    kept = browser.session[SEARCHES]
    assert len(kept) == MOST
    assert key_of(first) not in kept
    session = browser.session.session_key
    browser.post(reverse("core:log-out"))
    assert SEARCHES not in browser.session
    assert not Session.objects.filter(pk=session).exists()


def test_words_are_known_for_half_an_hour_and_then_asked_for_again(browser, monkeypatch):
    address = browser.post(LIST, {"q": "rosa"}).url
    now = timezone.now()

    def after(passed: timedelta) -> str:
        monkeypatch.setattr("core.views.searching.timezone.now", lambda: now + passed)
        return browser.get(address).text

    assert "Berg, Ada" not in after(SEARCHES_KEPT_FOR - timedelta(minutes=1))
    late = after(SEARCHES_KEPT_FOR + timedelta(seconds=1))
    assert "Type it again" in late
    assert "Berg, Ada" in late
    assert browser.post(LIST, {"q": "ada"}).url != address
    assert [words for words, _ in browser.session[SEARCHES].values()] == ["ada"]


def test_somebody_elses_key_shows_nothing_of_theirs(browser, school):
    address = browser.post(LIST, {"q": "rosa"}).url
    browser.force_login(make_director(school))
    page = browser.get(address)
    assert 'value="rosa"' not in page.text
