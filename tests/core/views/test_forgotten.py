from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core import mail
from django.core.management import call_command
from django.test import Client
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from core.models import Event, OneTimeLink, User
from core.services.accounts import make_link
from tests.factories import PASSWORD

pytestmark = pytest.mark.django_db
FORGOTTEN, LOG_IN = "/log-in/forgotten/", "/log-in/"
GOOD = "seven-quiet-mutes"


@pytest.fixture
def post_office(settings):
    """Mail is set up and kept here."""
    settings.MAIL_IS_SET = True
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    settings.DEFAULT_FROM_EMAIL = "hornbook@district.example"
    return mail.outbox


def address_of(token: str) -> str:
    return f"/log-in/link/{token}/"


def test_without_mail_the_page_says_whom_to_ask(client, director):
    answer = client.get(FORGOTTEN)
    assert "Ask an administrator" in answer.text
    assert "<input" not in answer.text.partition("<main")[2]
    assert client.post(FORGOTTEN, {"username": "director"}).status_code == 422
    assert not OneTimeLink.objects.exists()


def test_a_mailed_link_sets_a_new_password(client, director, post_office):
    User.objects.filter(pk=director.pk).update(email="dana@district.example")
    client.post(FORGOTTEN, {"username": "DIRECTOR"})
    assert post_office == [], "nothing is sent before the answer"
    call_command("work", once=True)
    (letter,) = post_office
    assert letter.to == ["dana@district.example"]
    link = re.search(r"http://testserver(/log-in/link/\S+/)", letter.body).group(1)
    assert client.get(link).status_code == 200
    answer = client.post(link, {"password": GOOD, "again": GOOD})
    assert answer.headers["Location"] == LOG_IN
    assert "_auth_user_id" not in client.session, "a link sets a password; it does not log in"
    assert client.post(LOG_IN, {"username": "director", "password": GOOD}).status_code == 302
    assert client.get(link).status_code == 410


def test_the_answer_is_the_same_whether_the_name_exists(client, director, tech, post_office):
    User.objects.filter(pk=director.pk).update(email="dana@district.example")
    User.objects.filter(pk=tech.pk).update(email="terry@district.example", is_active=False)
    names = ("director", "nobody", "tech", "a" * 80)
    answers = [Client().post(FORGOTTEN, {"username": name}, follow=True) for name in names]
    assert len({re.sub(r'nonce="[^"]*"', "", answer.text) for answer in answers}) == 1
    assert "If that user name exists" in answers[0].text
    queued = [task.args_kwargs["kwargs"] for task in DBTaskResult.objects.order_by("enqueued_at")]
    assert [kept["person"] for kept in queued] == [director.pk, 0, 0, 0], "a row for each, and no word that was typed"
    call_command("work", once=True)
    assert [letter.to for letter in post_office] == [["dana@district.example"]]


def test_looking_at_a_link_does_not_use_it_up(client, director, administrator):
    link = address_of(make_link(user=director, actor=administrator, at=timezone.now()))
    for _ in range(3):
        assert client.get(link).status_code == 200
    assert client.post(link, {"password": "aaaaaaaaaaaa", "again": "aaaaaaaaaaaa"}).status_code == 422
    assert client.post(link, {"password": GOOD, "again": GOOD}).status_code == 302
    assert client.post(link, {"password": GOOD, "again": GOOD}).status_code == 410


@pytest.mark.parametrize("token", ["x", "a" * 5000, "ü"])
def test_a_made_up_link_is_gone_like_a_used_one(client, director, token):
    assert client.get(address_of(token)).status_code == 410


def test_an_old_link_is_gone(client, director, administrator):
    token = make_link(user=director, actor=administrator, at=timezone.now() - timedelta(hours=25))
    assert client.post(address_of(token), {"password": GOOD, "again": GOOD}).status_code == 410
    assert User.objects.get(pk=director.pk).check_password(PASSWORD)


def test_an_administrator_makes_a_link_that_is_shown_once_and_logged(client, director, administrator):
    client.force_login(administrator)
    answer = client.post(f"/instruments/people/{director.pk}/link/", follow=True)
    link = re.search(r"http://testserver(/log-in/link/\S+/)<", answer.text).group(1)
    assert answer.headers["Cache-Control"] == "no-store, private"
    again = client.get(f"/instruments/people/{director.pk}/link/", follow=True)
    assert again.redirect_chain
    assert link not in again.text
    event = Event.objects.get(act="reset_link_made")
    assert (event.actor, event.subject_id) == (administrator, str(director.pk))
    assert Client().post(link, {"password": GOOD, "again": GOOD}).status_code == 302


def test_no_link_for_somebody_kept_out(client, director, administrator):
    User.objects.filter(pk=director.pk).update(is_active=False)
    client.force_login(administrator)
    answer = client.post(f"/instruments/people/{director.pk}/link/")
    assert answer.status_code == 422
    assert "Reactivate" in answer.text
