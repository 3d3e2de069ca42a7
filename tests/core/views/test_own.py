from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from core.models import User
from core.views.entering import CONFIRMED
from inventory.models import Role
from inventory.services.people import give_role, remove_role, set_active
from tests.factories import NOW, PASSWORD

pytestmark = pytest.mark.django_db
ME, CHANGE, TODAY, LOG_IN = "/me/", "/me/password/", "/", "/log-in/"
GOOD = "seven-quiet-mutes"


def logged_in(username: str, password: str = PASSWORD) -> Client:
    client = Client()
    answer = client.post(LOG_IN, {"username": username, "password": password})
    assert answer.status_code == 302
    return client


def is_in(client: Client) -> bool:
    return client.get(TODAY).status_code == 200


def test_a_changed_password_ends_every_session_but_ones_own(director):
    here, there = logged_in("director"), logged_in("director")
    answer = here.post(CHANGE, {"old": PASSWORD, "password": GOOD, "again": GOOD}, follow=True)
    assert "logged out everywhere else" in answer.text
    assert is_in(here)
    assert not is_in(there)
    assert is_in(logged_in("director", GOOD))


@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        ({"old": "wrong-one-typed", "password": GOOD, "again": GOOD}, "not your current password"),
        ({"password": GOOD, "again": GOOD}, "required"),
        ({"old": PASSWORD, "password": GOOD, "again": GOOD + "s"}, "do not match"),
        ({"old": PASSWORD, "password": "aaaaaaaaaaaa", "again": "aaaaaaaaaaaa"}, "same few characters"),
        ({"old": PASSWORD, "password": PASSWORD, "again": PASSWORD}, "Choose another"),
    ],
)
def test_a_refused_change_leaves_the_password(director, typed, reason):
    client = logged_in("director")
    answer = client.post(CHANGE, typed)
    assert answer.status_code == 422
    assert reason in answer.text
    assert User.objects.get(pk=director.pk).check_password(PASSWORD)
    assert is_in(client)


def test_guesses_at_the_old_password_are_counted_like_those_at_the_log_in(director, settings):
    client = logged_in("director")
    typed = {"old": "wrong-one-typed", "password": GOOD, "again": GOOD}
    answers = [client.post(CHANGE, typed).status_code for _ in range(settings.LOG_IN_TRIES + 1)]
    assert answers == [422] * settings.LOG_IN_TRIES + [429]
    again = [client.post("/me/confirm/", {"password": PASSWORD}).status_code for _ in range(2)]
    assert again == [429, 429], "on this device, whatever the page"
    client.post("/log-out/")
    assert client.post(LOG_IN, {"username": "director", "password": PASSWORD}).status_code == 429
    assert Client().post(LOG_IN, {"username": "director", "password": PASSWORD}).status_code == 302


def test_guesses_where_the_password_is_asked_again_are_counted_and_other_refusals_are_not(director, settings):
    client = logged_in("director")
    for _ in range(settings.LOG_IN_TRIES + 1):
        assert (
            client.post(CHANGE, {"old": PASSWORD, "password": "aaaaaaaaaaaa", "again": "aaaaaaaaaaaa"}).status_code
            == 422
        )
    answers = [client.post("/me/confirm/", {"password": "wrong"}).status_code for _ in range(settings.LOG_IN_TRIES - 1)]
    assert set(answers) == {422}
    assert client.post("/me/confirm/", {"password": PASSWORD}).status_code == 302
    answers = [client.post("/me/confirm/", {"password": "wrong"}).status_code for _ in range(settings.LOG_IN_TRIES + 1)]
    assert answers == [422] * settings.LOG_IN_TRIES + [429], "the right one restarted the count"


def test_whoever_has_a_first_password_comes_nowhere_before_choosing(director):
    User.objects.filter(pk=director.pk).update(password_is_first=True)
    client = logged_in("director")
    for address in (TODAY, ME, "/instruments/", "/loans/"):
        assert client.get(address).headers["Location"] == CHANGE
    assert client.post("/lend/X/").headers["Location"] == CHANGE
    assert "Choose your password" in client.get(CHANGE).text
    answer = client.post(CHANGE, {"password": GOOD, "again": GOOD})
    assert answer.headers["Location"] == TODAY
    assert is_in(client)


def test_the_first_password_is_worth_nothing_afterwards(director):
    User.objects.filter(pk=director.pk).update(password_is_first=True)
    client = logged_in("director")
    client.post(CHANGE, {"password": GOOD, "again": GOOD})
    assert Client().post(LOG_IN, {"username": "director", "password": PASSWORD}).status_code == 200


def test_public_pages_and_log_out_stay_open_to_whoever_must_choose(director):
    User.objects.filter(pk=director.pk).update(password_is_first=True)
    client = logged_in("director")
    assert client.get("/healthz").status_code == 200
    assert client.post("/log-out/").headers["Location"] == LOG_IN


def test_whoever_is_kept_out_does_not_come_back_with_an_old_session(director, administrator):
    client = logged_in("director")
    set_active(user=director, is_active=False, actor=administrator, at=NOW)
    set_active(user=director, is_active=True, actor=administrator, at=NOW)
    assert not is_in(client)
    assert is_in(logged_in("director"))


def test_a_role_given_or_taken_ends_the_sessions(director, administrator):
    client = logged_in("director")
    held = give_role(user=director, role=Role.AUDITOR, actor=administrator, at=NOW)
    assert not is_in(client)
    client = logged_in("director")
    give_role(user=director, role=Role.AUDITOR, actor=administrator, at=NOW)
    assert is_in(client), "nothing was given: they had it"
    remove_role(held=held, actor=administrator, at=NOW)
    assert not is_in(client)


def test_an_administrator_who_changes_their_own_roles_goes_on(administrator):
    here, there = logged_in("administrator"), logged_in("administrator")
    answer = here.post(reverse("inventory:give-role", args=[administrator.pk]), {"role": Role.AUDITOR})
    assert answer.status_code == 302
    assert is_in(here)
    assert not is_in(there)


def test_the_own_page_is_found_and_shows_only_oneself(director):
    client = logged_in("director")
    assert ME in client.get(TODAY).text
    assert "Dana Director" in client.get(ME).text


def test_the_password_is_asked_for_again_after_a_while(director):
    client = logged_in("director")
    session = client.session
    session[CONFIRMED] -= 16 * 60
    session.save()
    confirm = reverse("core:confirm")
    answer = client.post(f"{confirm}?next=/loans/", {"password": "wrong-one-typed"})
    assert answer.status_code == 422
    assert client.session[CONFIRMED] == session[CONFIRMED]
    answer = client.post(f"{confirm}?next=/loans/", {"password": PASSWORD})
    assert answer.headers["Location"] == "/loans/"
    assert client.session[CONFIRMED] > session[CONFIRMED]


def test_asking_again_leads_to_no_other_site(director):
    client = logged_in("director")
    answer = client.post("/me/confirm/?next=https://elsewhere.example/", {"password": PASSWORD})
    assert answer.headers["Location"] == ME
