"""From an empty place to the administrator's Today, and every way in which the link opens nothing."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.auth import SESSION_KEY
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from core.models import User
from desk.views import opening as page
from inventory.models import District, OpeningLink, Role, School
from inventory.services.opening import make_opening_link, open_district
from tests.factories import NOW, make_district, make_user
from tests.inventory.forms.test_opening import typed

pytestmark = pytest.mark.django_db
TODAY, STEPS = reverse("desk:today"), reverse("desk:first-steps")


@pytest.fixture
def link():
    return reverse("desk:begin", args=[make_opening_link(at=timezone.now())])


def test_a_stranger_with_the_link_ends_on_the_list_logged_in(client, link):
    first = client.get(link)
    assert first.status_code == 200
    assert "Set up and log in" in first.text
    answer = client.post(link, typed(), follow=True)
    assert answer.redirect_chain == [(TODAY, 302)]
    assert client.session[SESSION_KEY] == str(User.objects.get().pk)
    text = " ".join(answer.text.split())
    assert "First steps" in text
    assert "6 of 8 done" in text
    assert reverse("inventory:import") in text


def test_looking_uses_nothing_up(client, link):
    for _ in range(3):
        assert client.get(link).status_code == 200
    assert OpeningLink.objects.get().used_at is None


def test_going_back_leads_whoever_did_it_on(client, link):
    client.post(link, typed())
    assert client.get(link).url == TODAY
    assert client.post(link, typed()).url == TODAY
    assert School.objects.count() == 1


def test_another_browser_is_told_to_log_in(client, link):
    assert Client().get(link).status_code == 200
    client.post(link, typed())
    other = Client()
    for answer in (other.get(link), other.post(link, typed(username="bo", district="Other"))):
        assert answer.status_code == 410
        assert "This link has been used" in answer.text
        assert reverse("core:log-in") in answer.text
    assert (District.objects.get().name, User.objects.count()) == ("Alder Valley", 1)


def test_it_says_that_it_has_expired(client, link):
    OpeningLink.objects.update(expires_at=NOW - timedelta(days=900))
    for answer in (client.get(link), client.post(link, typed())):
        assert answer.status_code == 410
        assert "opening_link" in answer.text
    assert User.objects.count() == 0


def test_it_is_void_once_somebody_administers(client, link):
    make_district()
    make_user(Role.ADMINISTRATOR)
    for answer in (client.get(link), client.post(link, typed())):
        assert answer.status_code == 410
        assert "set up already" in answer.text
    assert School.objects.count() == 0


@pytest.mark.parametrize("token", ["x", "a" * 500, "%2e%2e", "☃"])
def test_a_link_that_was_never_made_is_not_found(client, token):
    assert client.get(reverse("desk:begin", args=[token])).status_code == 404


def test_what_is_refused_keeps_what_was_typed_but_the_password(client, link):
    answer = client.post(link, typed(bench_rate_amount="5000", again="something else"))
    assert answer.status_code == 422
    assert "Enter a number from 0 to 300." in answer.text
    assert "The passwords do not match." in answer.text
    assert "Nothing is saved yet." in answer.text
    assert 'value="Cedar Fork Middle"' in answer.text
    assert typed()["password"] not in answer.text
    assert (District.objects.count(), User.objects.count()) == (0, 0)


def test_who_sends_while_somebody_else_saves_is_told_and_writes_nothing(client, link, monkeypatch):
    """The second passes the first look at the link; the act itself refuses it."""

    def overtaken(**given):
        monkeypatch.setattr(page, "open_district", open_district)
        client.post(link, typed())
        return open_district(**given)

    monkeypatch.setattr(page, "open_district", overtaken)
    answer = Client().post(link, typed(username="bo"))
    assert answer.status_code == 410
    assert "This link has been used" in answer.text
    assert [user.username for user in User.objects.all()] == ["adi"]


def test_the_list_is_today_until_it_is_put_aside_and_comes_back(client, administrator):
    District.objects.update(first_steps_aside_at=None)
    client.force_login(administrator)
    today = client.get(TODAY).text
    assert "Bring your list" in today
    assert "All schools and rooms" not in today
    client.post(STEPS, {"aside": "1"})
    today = client.get(TODAY).text
    assert "Bring your list" not in today
    assert "All schools and rooms" in today
    assert "Show it on Today again" in client.get(STEPS).text
    assert client.post(STEPS, {"aside": "0"}).url == TODAY
    assert "Bring your list" in client.get(TODAY).text


def test_the_list_says_that_tags_wait_for_a_public_address(client, administrator, settings):
    District.objects.update(first_steps_aside_at=None)
    client.force_login(administrator)
    for address, is_said in (("", True), ("https://horns.example", False)):
        settings.PUBLIC_ADDRESS = address
        assert ("No public address yet" in client.get(TODAY).text) is is_said


def test_before_the_district_is_named_that_comes_first(client):
    client.force_login(make_user(Role.ADMINISTRATOR))
    assert "It comes first." in client.get(STEPS).text
    assert client.get(TODAY).status_code == 200
