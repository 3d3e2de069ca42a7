from datetime import timedelta

import pytest
from django.conf import settings
from django.contrib import messages
from django.contrib.sessions.models import Session
from django.http import HttpResponse
from django.template.defaultfilters import date
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from core.models import User
from core.services.accounts import make_link
from inventory.models import StaffRole
from tests.factories import PASSWORD, make_user

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


def log_in(client, *, name="director", typed="wrong", address="203.0.113.9"):
    return client.post(LOG_IN, {"username": name, "password": typed}, REMOTE_ADDR=address)


@pytest.mark.django_db
def test_what_a_student_tries_keeps_a_director_out_of_a_new_phone_and_not_out_of_their_own(director, tech):
    """One address, as all of a school has it."""
    own, new, student = Client(), Client(), Client()
    assert log_in(own, typed=PASSWORD).status_code == 302
    own.post(reverse("core:log-out"))
    for number in range(settings.LOG_IN_TRIES_PER_ADDRESS):
        log_in(student, name=("director", "tech", "auditor", "principal")[number % 4])
    assert log_in(student).status_code == 429
    waits = log_in(new, typed=PASSWORD)
    assert waits.status_code == 429
    assert 0 < int(waits.headers["Retry-After"]) <= 15 * 60
    assert log_in(own).status_code == 200, "a typing mistake is looked at as ever"
    assert log_in(own, typed=PASSWORD).status_code == 302
    assert log_in(Client(), name="tech", typed=PASSWORD).status_code == 429
    assert log_in(Client(), name="tech", typed=PASSWORD, address="198.51.100.4").status_code == 302


@pytest.mark.django_db
def test_strangers_everywhere_keep_nobody_out_of_their_own_phone(director):
    own = Client()
    log_in(own, typed=PASSWORD)
    own.post(reverse("core:log-out"))
    answers = [log_in(Client(), address=f"2001:db8:{number:x}::1").status_code for number in range(21)]
    assert answers == [200] * settings.LOG_IN_TRIES_PER_NAME + [429]
    assert log_in(Client(), typed=PASSWORD, address="198.51.100.4").status_code == 429
    assert log_in(own, typed=PASSWORD).status_code == 302


@pytest.mark.django_db
def test_one_password_at_every_name_is_slowed_for_the_whole_network(director):
    """Each try by another address of one /64."""
    answers = [
        log_in(Client(), name=f"person{number}", address=f"2001:db8::{number + 1:x}").status_code
        for number in range(11)
    ]
    assert answers == [200] * settings.LOG_IN_NAMES_PER_NETWORK + [429]
    assert log_in(Client(), typed=PASSWORD, address="2001:db8::ffff").status_code == 429
    assert log_in(Client(), typed=PASSWORD, address="2001:db8:0:1::1").status_code == 302


@pytest.mark.django_db
def test_thirty_people_who_log_in_at_once_for_the_first_time_all_get_in(school):
    for _ in range(30):
        person = make_user(school=school)
        log_in(Client(), name=person.username)
        assert log_in(Client(), name=person.username, typed=PASSWORD).status_code == 302


@pytest.mark.django_db
def test_names_that_exist_wait_like_names_that_do_not_and_the_page_says_until_when(director):
    pages = []
    for name in ("director", "nobody"):
        for _ in range(settings.LOG_IN_TRIES):
            assert log_in(Client(), name=name).status_code == 200
        before = timezone.localtime() + timedelta(minutes=15)
        pages.append(log_in(Client(), name=name))
        shown = [before + timedelta(minutes=minutes) for minutes in (-1, 0, 1)]
        assert any(date(moment, "g:i A") in pages[-1].text for moment in shown)
    assert [page.status_code for page in pages] == [429, 429]
    assert all("ask an administrator of your district" in page.text for page in pages)


@pytest.mark.django_db
def test_a_link_lets_in_at_once_on_the_browser_where_it_was_opened(director, administrator):
    for _ in range(settings.LOG_IN_TRIES + 1):
        refused = log_in(Client())
    assert refused.status_code == 429
    token = make_link(user=director, actor=administrator, at=timezone.now())
    client = Client()
    chosen = {"password": "seven-quiet-mutes", "again": "seven-quiet-mutes"}
    client.post(reverse("core:link", args=[token]), chosen, REMOTE_ADDR="203.0.113.9")
    assert log_in(client, typed="seven-quiet-mutes").status_code == 302
    assert log_in(Client(), typed="seven-quiet-mutes").status_code == 429
