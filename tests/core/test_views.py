import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db.migrations.recorder import MigrationRecorder
from django.urls import reverse

from core.views import StaffView, page_above
from tests.factories import PASSWORD

LOG_IN = "/log-in/"


def test_a_staff_page_without_a_permission_cannot_be_defined():
    with pytest.raises(ImproperlyConfigured):

        class Forgotten(StaffView):
            pass


@pytest.mark.django_db
def test_health_is_well_when_every_migration_is_applied(client):
    assert client.get(reverse("core:health")).json() == {"status": "ok"}


@pytest.mark.django_db
def test_health_is_ill_when_a_migration_waits(client):
    MigrationRecorder.Migration.objects.filter(app="loans").delete()
    answer = client.get(reverse("core:health"))
    assert answer.status_code == 503
    assert answer.json()["status"] == "migrations waiting"


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


@pytest.mark.parametrize(
    ("act", "page"),
    [
        ("/bench/7/do/", "/bench/7/"),
        ("/instruments/CF-0001/tags/new/", "/instruments/CF-0001/tags/"),
        ("/instruments/walk/5/finding/take-back/", "/instruments/walk/5/"),
        ("/log-out/", ""),
    ],
)
def test_above_the_address_of_an_act_lies_its_page(act, page):
    assert page_above(act) == page


@pytest.mark.django_db
def test_who_logs_in_anew_in_the_middle_of_an_act_comes_to_its_page(client, tech):
    sent = client.post("/bench/7/do/", {"outcome": "freed"})
    log_in = sent.headers["Location"]
    assert client.post(log_in, {"username": "tech", "password": PASSWORD}).headers["Location"] == "/bench/7/do/"
    led = client.get("/bench/7/do/")
    assert led.headers["Location"] == "/bench/7/"
    assert "do it once more" in client.get(reverse("desk:today")).text


@pytest.mark.django_db
def test_after_five_wrong_passwords_even_the_right_one_waits(client, director):
    for _ in range(5):
        client.post(LOG_IN, {"username": "director", "password": "wrong"})
    answer = client.post(LOG_IN, {"username": "director", "password": PASSWORD})
    assert answer.status_code == 429
    assert "_auth_user_id" not in client.session


@pytest.mark.django_db
def test_wrong_passwords_for_one_name_do_not_lock_out_another(client, director, tech):
    for _ in range(5):
        client.post(LOG_IN, {"username": "director", "password": "wrong"})
    assert client.post(LOG_IN, {"username": "tech", "password": PASSWORD}).status_code == 302


@pytest.mark.django_db
def test_an_address_that_does_not_exist_says_so_kindly(client, director):
    client.force_login(director)
    answer = client.get("/no/such/page/")
    assert answer.status_code == 404
    assert "Hornbook" in answer.text


@pytest.mark.django_db
def test_pages_carry_a_strict_content_policy(client, director):
    client.force_login(director)
    policy = client.get(reverse("desk:scan")).headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
