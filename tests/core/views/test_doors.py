from datetime import timedelta

import pytest
from django.contrib import messages
from django.contrib.sessions.models import Session
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone

from core.models import User
from inventory.models import StaffRole
from tests.factories import PASSWORD

LOG_IN = "/log-in/"


@pytest.mark.django_db
def test_the_right_password_opens_and_log_out_closes(client, director):
    answer = client.post(LOG_IN, {"username": "director", "password": PASSWORD})
    assert answer.headers["Location"] == reverse("desk:today")
    client.post(reverse("core:log-out"))
    assert client.get(reverse("desk:today")).status_code == 302


@pytest.mark.django_db
def test_log_out_by_a_link_does_nothing(client, director):
    client.force_login(director)
    assert client.get(reverse("core:log-out")).status_code == 405


@pytest.mark.django_db
def test_after_five_wrong_passwords_even_the_right_one_waits(client, director):
    for _ in range(5):
        client.post(LOG_IN, {"username": "director", "password": "wrong"})
    answer = client.post(LOG_IN, {"username": "director", "password": PASSWORD})
    assert answer.status_code == 429
    assert "_auth_user_id" not in client.session


@pytest.mark.django_db
def test_other_letters_of_the_same_name_give_no_more_tries(client, director):
    for name in ("director", "Director", "DIRECTOR", " director", "dIrEcToR"):
        client.post(LOG_IN, {"username": name, "password": "wrong"})
    assert client.post(LOG_IN, {"username": "direcTOR", "password": PASSWORD}).status_code == 429


@pytest.mark.django_db
def test_a_name_that_a_phone_began_with_a_capital_opens(client, director):
    answer = client.post(LOG_IN, {"username": "Director", "password": PASSWORD})
    assert answer.headers["Location"] == reverse("desk:today")


@pytest.mark.django_db
def test_after_the_right_password_the_count_begins_anew(client, director):
    for _ in range(2):
        for _ in range(4):
            client.post(LOG_IN, {"username": "director", "password": "wrong"})
        assert client.post(LOG_IN, {"username": "Director", "password": PASSWORD}).status_code == 302
        client.post(reverse("core:log-out"))


@pytest.mark.django_db
def test_somebody_kept_out_is_out_at_once(client, director):
    client.force_login(director)
    assert client.get(reverse("desk:today")).status_code == 200
    User.objects.filter(pk=director.pk).update(is_active=False)
    assert client.get(reverse("desk:today")).headers["Location"].startswith(LOG_IN)
    assert client.post(LOG_IN, {"username": "director", "password": PASSWORD}).status_code == 200


@pytest.mark.django_db
def test_a_role_taken_away_is_gone_at_the_next_page(client, director):
    client.force_login(director)
    assert client.get(reverse("loans:students")).status_code == 200
    StaffRole.objects.filter(user=director).delete()
    assert client.get(reverse("loans:students")).status_code == 403


@pytest.mark.django_db
def test_a_session_ends_after_a_working_day_and_with_the_browser(client, director, settings):
    client.post(LOG_IN, {"username": "director", "password": PASSWORD})
    assert client.cookies["sessionid"]["expires"] == ""
    ends = Session.objects.get().expire_date - timezone.now()
    assert timedelta(hours=9, minutes=59) < ends <= timedelta(hours=10)
    Session.objects.update(expire_date=timezone.now() - timedelta(minutes=1))
    assert client.get(reverse("desk:today")).headers["Location"].startswith(LOG_IN)


@pytest.mark.django_db
def test_log_in_leads_to_no_other_site(client, director):
    answer = client.post(f"{LOG_IN}?next=https://elsewhere.example/", {"username": "director", "password": PASSWORD})
    assert answer.headers["Location"] == reverse("desk:today")


@pytest.mark.django_db
def test_wrong_passwords_for_one_name_do_not_lock_out_another(client, director, tech):
    for _ in range(5):
        client.post(LOG_IN, {"username": "director", "password": "wrong"})
    assert client.post(LOG_IN, {"username": "tech", "password": PASSWORD}).status_code == 302


@pytest.mark.django_db
def test_log_out_has_the_browser_throw_its_cache_away_and_its_stores_if_nobody_elses_things_wait(client, director):
    client.force_login(director)
    assert client.post(reverse("core:log-out")).headers["Clear-Site-Data"] == '"cache"'
    client.force_login(director)
    assert client.post(reverse("core:log-out"), {"clear": "1"}).headers["Clear-Site-Data"] == '"cache", "storage"'


@pytest.mark.django_db
def test_what_the_last_act_said_is_not_for_whoever_logs_in_next(client, director):
    client.force_login(director)
    request = client.get(reverse("desk:scan")).wsgi_request
    messages.success(request, "Robin Reed has it now.")
    response = HttpResponse()
    request._messages.update(response)
    client.cookies["messages"] = response.cookies["messages"].value
    left = client.post(reverse("core:log-out"))
    assert left.cookies["messages"].value == ""
    assert "Robin Reed" not in client.get(reverse("core:log-in")).text
