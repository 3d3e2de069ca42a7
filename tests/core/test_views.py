from datetime import timedelta

import pytest
from django.contrib.sessions.models import Session
from django.core.exceptions import ImproperlyConfigured
from django.db.migrations.recorder import MigrationRecorder
from django.urls import reverse
from django.utils import timezone

from core.models import User
from core.views import StaffView, page_above
from inventory.models import StaffRole
from tests.factories import PASSWORD, make_instrument

LOG_IN = "/log-in/"


def test_a_staff_page_without_a_permission_cannot_be_defined():
    with pytest.raises(ImproperlyConfigured):

        class Forgotten(StaffView):
            pass


def test_nor_can_a_page_made_of_a_base_that_names_none():
    class Base(StaffView, is_base=True):
        pass

    class Named(Base):
        permission_required = "inventory.view_instrument"

    with pytest.raises(ImproperlyConfigured, match="Forgotten"):

        class Forgotten(Base):
            pass


def test_a_browser_that_asks_for_an_icon_beside_a_pdf_gets_ours(client):
    answer = client.get("/favicon.ico")
    assert answer.headers["Content-Type"] == "image/svg+xml"
    assert answer.content.lstrip().startswith(b"<svg")


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
    assert "Your session had ended" in client.get(reverse("desk:today")).text


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


@pytest.mark.django_db
def test_a_form_page_shows_saves_and_keeps_what_is_refused(client, tech, school):
    """One page in use stands for all that are made of FormView."""
    instrument = make_instrument(school=school)
    address = reverse("inventory:whereabouts", args=[instrument.asset_number])
    client.force_login(tech)
    assert client.get(address).status_code == 200
    assert client.post(address, {"to": "the moon"}).status_code == 422
    answer = client.post(address, {"to": "not_found"}, follow=True)
    assert answer.redirect_chain == [(reverse("desk:instrument", args=[instrument.asset_number]), 302)]
    assert "Recorded as not found." in answer.text
    refused = client.post(address, {"to": "not_found"})
    assert refused.status_code == 422
    assert refused.context["form"].non_field_errors()
