from __future__ import annotations

import json
import re

import pytest
from allauth.mfa.models import Authenticator
from django.test import Client
from django.urls import reverse

from core import second_steps as steps
from core.models import Event, LogInTry, User
from core.views.entering import CONFIRMED, PENDING
from inventory.models import District, Role
from tests.core.services.test_second_steps import code_now, with_app
from tests.factories import PASSWORD, make_district
from tests.passkeys import SoftPasskey

pytestmark = pytest.mark.django_db
LOG_IN, SECOND, TODAY, ME = "/log-in/", "/log-in/second-step/", "/", "/me/"
ADD_CODES, ADD_PASSKEY, RECOVERY = "/me/codes/", "/me/passkey/", "/me/recovery-codes/"
TYPED = {"username": "director", "password": PASSWORD}


def is_in(client: Client) -> bool:
    return client.get(TODAY).status_code == 200


def by_password(secure: bool = False) -> Client:
    client = Client(HTTP_X_FORWARDED_PROTO="https") if secure else Client()
    client.post(LOG_IN, TYPED)
    return client


def options_on(text: str) -> dict:
    found = re.search(r'<script id="passkey-options" type="application/json">(.*?)</script>', text)
    return json.loads(found.group(1))


@pytest.fixture
def secret(director):
    return with_app(director)[0]


@pytest.fixture
def passkey(director):
    """The director's passkey, made on the page."""
    key, client = SoftPasskey(), by_password()
    options = options_on(client.get(ADD_PASSKEY).text)
    answer = client.post(ADD_PASSKEY, {"name": "Phone", "credential": key.made(options)})
    assert answer.headers["Location"] == RECOVERY
    return key


def test_the_password_alone_does_not_let_in(secret):
    client = Client()
    assert client.post(LOG_IN, TYPED).headers["Location"] == SECOND
    assert not is_in(client)
    assert client.post(SECOND, {"code": "000000"}).status_code == 422
    assert not is_in(client)
    answer = client.post(SECOND, {"code": code_now(secret, away=1)})
    assert answer.headers["Location"] == TODAY
    assert is_in(client)


def test_it_goes_on_where_the_log_in_was_asked_for(secret):
    client = Client()
    client.post(f"{LOG_IN}?next=/loans/", TYPED)
    assert client.post(SECOND, {"code": code_now(secret, away=1)}).headers["Location"] == "/loans/"


def test_without_the_password_there_is_no_second_step(secret):
    client = Client()
    assert "Log in first" in client.get(SECOND).text
    assert client.post(SECOND, {"code": code_now(secret, away=1)}).headers["Location"] == LOG_IN
    assert not is_in(client)


def test_codes_are_guessed_five_times_and_no_more(secret, settings):
    settings.LOG_IN_TRIES = 50
    client = by_password()
    answers = [client.post(SECOND, {"code": f"{guess:06}"}) for guess in range(5)]
    assert answers[-1].headers["Location"] == LOG_IN
    assert client.post(SECOND, {"code": code_now(secret, away=1)}).headers["Location"] == LOG_IN
    assert not is_in(client)


def test_guesses_are_counted_like_wrong_passwords(secret, settings):
    waiting = by_password()
    for _ in range(settings.LOG_IN_TRIES):
        answer = by_password().post(SECOND, {"code": "000000"})
        assert answer.status_code == 422, "the right password does not restart the count"
    assert Client().post(LOG_IN, TYPED).status_code == 429
    assert waiting.post(SECOND, {"code": code_now(secret, away=1)}).status_code == 429, "a code waits as well"
    assert not is_in(waiting)


def test_a_passkey_that_does_not_answer_is_counted(passkey, settings):
    client = by_password(secure=True)
    for _ in range(settings.LOG_IN_TRIES):
        assert client.post(SECOND, {"credential": "{}"}).status_code in {302, 422}
    assert Client().post(LOG_IN, TYPED).status_code == 429


def test_who_gets_in_by_the_second_step_begins_anew(secret, settings):
    client = by_password()
    for _ in range(settings.LOG_IN_TRIES - 1):
        assert client.post(SECOND, {"code": "000000"}).status_code == 422
    assert client.post(SECOND, {"code": code_now(secret, away=1)}).status_code == 302
    assert not LogInTry.objects.exists()


def test_the_step_waits_ten_minutes_and_ends_with_the_password(secret, director):
    client = by_password()
    session = client.session
    session[PENDING] = session[PENDING] | {"at": session[PENDING]["at"] - 601}
    session.save()
    assert "Log in first" in client.get(SECOND).text
    client = by_password()
    User.objects.filter(pk=director.pk).update(session_round=7)
    assert client.post(SECOND, {"code": code_now(secret, away=1)}).headers["Location"] == LOG_IN
    client = by_password()
    User.objects.filter(pk=director.pk).update(is_active=False)
    assert client.post(SECOND, {"code": code_now(secret, away=1)}).headers["Location"] == LOG_IN


def test_the_session_gets_a_new_name_at_both_steps(secret):
    client = Client()
    client.get(LOG_IN)
    names = []
    for address, typed in ((LOG_IN, TYPED), (SECOND, {"code": code_now(secret, away=1)})):
        client.post(address, typed)
        names.append(client.session.session_key)
    assert len(set(names)) == 2


def test_a_recovery_code_lets_in_once_and_says_how_many_are_left(director):
    _, codes = with_app(director)
    client = by_password()
    assert "9 are left" in client.post(SECOND, {"code": codes[0]}, follow=True).text
    client = by_password()
    assert client.post(SECOND, {"code": codes[0]}).status_code == 422


def test_an_app_is_set_up_on_the_page_and_its_recovery_codes_shown_once(director):
    client = by_password()
    page = client.get(ADD_CODES)
    key = re.search(r"<code[^>]*>([A-Z2-7 ]+)</code>", page.text).group(1).replace(" ", "")
    assert client.post(ADD_CODES, {"code": "000000"}).status_code == 422
    answer = client.post(ADD_CODES, {"code": code_now(key)})
    assert answer.headers["Location"] == RECOVERY
    shown = re.findall(r"<code>(\d{4} \d{4} \d{4})</code>", client.get(RECOVERY).text)
    assert len(shown) == 10
    assert client.get(RECOVERY).headers["Location"] == ME
    assert "10 recovery codes left" in " ".join(client.get(ME).text.split())


def test_new_recovery_codes_are_made_on_the_own_page(director):
    _, codes = with_app(director)
    client = by_password()
    client.post(SECOND, {"code": codes[0]})
    assert client.post(RECOVERY).headers["Location"] == RECOVERY
    assert not steps.takes_recovery_code(director, codes[1])
    assert Event.objects.filter(act="recovery_codes_made").count() == 1


def test_a_passkey_made_here_opens_here(passkey):
    client = by_password()
    question = options_on(client.get(SECOND).text)
    answer = client.post(SECOND, {"credential": passkey.shown(question)})
    assert answer.headers["Location"] == TODAY
    assert is_in(client)
    assert Authenticator.objects.get(type="webauthn").last_used_at


def test_a_passkeys_answer_is_worth_nothing_a_second_time(passkey):
    client = by_password()
    sent = passkey.shown(options_on(client.get(SECOND).text))
    other = by_password()
    other.get(SECOND)
    assert other.post(SECOND, {"credential": sent}).status_code == 422
    client.post(SECOND, {"credential": sent})
    client.post("/log-out/")
    client.post(LOG_IN, TYPED)
    assert client.post(SECOND, {"credential": sent}).status_code == 422


def show(key: SoftPasskey, counted: int) -> tuple[Client, str]:
    """Log in with the passkey, which says how often it was used; what the page then says."""
    key.counted, client = counted, by_password()
    answer = client.post(SECOND, {"credential": key.shown(options_on(client.get(SECOND).text))})
    return client, answer.text


def test_a_passkey_whose_counter_does_not_grow_is_refused_told_and_logged(passkey, caplog):
    for counted in (4, 5, 9):
        assert is_in(show(passkey, counted)[0])
    for counted in (9, 8, 0):
        client, said = show(passkey, counted)
        assert "a copy of it may be in use" in said
        assert not is_in(client)
    event = Event.objects.filter(act="passkey_copied").first()
    assert (event.after, event.subject_type) == ({"counted": 9}, "core.user")
    assert [one for one in caplog.records if "answered out of order" in one.getMessage()]
    client = show(passkey, 10)[0]
    assert is_in(client)
    assert "The passkey Phone answered out of order" in " ".join(client.get(ME).text.split())


def test_a_passkey_that_keeps_no_count_goes_on(passkey):
    assert all(is_in(show(passkey, 0)[0]) for _ in range(2))
    assert Event.objects.filter(act="passkey_copied").count() == 0


def test_a_copy_of_a_passkey_that_was_made_with_a_count_and_never_used_is_refused(director):
    key, client = SoftPasskey(counted=7), by_password()
    client.post(ADD_PASSKEY, {"name": "Key", "credential": key.made(options_on(client.get(ADD_PASSKEY).text))})
    assert not is_in(show(key, 7)[0])
    assert is_in(show(key, 8)[0])


@pytest.mark.parametrize(
    "change",
    [
        {"origin": "https://testserver.elsewhere.example"},
        {"origin": "http://testserver"},
        {"site": "elsewhere.example"},
        {"key": SoftPasskey().key},
        {"credential_id": b"another"},
    ],
)
def test_a_passkey_of_another_site_or_person_does_not_open(passkey, change):
    client = by_password()
    question = options_on(client.get(SECOND).text)
    wrong = SoftPasskey(**({"key": passkey.key, "credential_id": passkey.credential_id} | change))
    assert client.post(SECOND, {"credential": wrong.shown(question)}).status_code == 422
    assert not is_in(client)


@pytest.mark.parametrize("sent", ["{}", "[]", "{", '{"id": 1}', '{"response": null}', "x" * 30_000])
def test_a_malformed_answer_is_refused_and_no_fault(passkey, sent):
    client = by_password()
    client.get(SECOND)
    assert client.post(SECOND, {"credential": sent}).status_code == 422
    client = by_password()
    assert client.get(ADD_PASSKEY).status_code == 302, "the second step comes first"


def test_a_passkey_made_for_another_challenge_is_not_taken(director):
    client = by_password()
    options = options_on(client.get(ADD_PASSKEY).text)
    client.get(ADD_PASSKEY)
    assert client.post(ADD_PASSKEY, {"name": "P", "credential": SoftPasskey().made(options)}).status_code == 422
    assert client.post(ADD_PASSKEY, {"name": "P"}).status_code == 422
    assert not steps.has_second_step(director)


def test_changing_how_one_logs_in_asks_for_the_password_after_a_while(director):
    client = by_password()
    session = client.session
    session[CONFIRMED] -= 16 * 60
    session.save()
    remove = reverse("core:remove-step", args=[1])
    for ask in (client.get(ADD_CODES), client.get(ADD_PASSKEY), client.post(RECOVERY), client.post(remove)):
        assert ask.headers["Location"].startswith("/me/confirm/")
    assert client.post(ADD_CODES, {"code": "1"}).headers["Location"] == "/me/confirm/?next=%2Fme%2F"


def test_whoever_owes_a_second_step_adds_one_before_anything_else(director):
    make_district()
    District.objects.update(second_step_roles=[Role.DIRECTOR])
    User.objects.filter(pk=director.pk).update(second_step_due=True)
    client = by_password()
    assert client.get(TODAY).headers["Location"] == ME
    assert "Your role needs a second step" in client.get(ME).text
    secret = steps.new_secret()
    session = client.session
    session["new_code_secret"] = secret
    session.save()
    assert client.post(ADD_CODES, {"code": code_now(secret)}).headers["Location"] == RECOVERY
    assert client.get(RECOVERY).status_code == 200
    assert is_in(client)


def test_an_administrator_resets_the_second_step_of_another_but_not_their_own(director, administrator, client):
    with_app(director)
    with_app(administrator)
    client.force_login(administrator)
    page = client.get(f"/instruments/people/{director.pk}/")
    assert "Reset second step" in page.text
    client.post(f"/instruments/people/{director.pk}/second-step/")
    assert not steps.has_second_step(director)
    assert is_in(by_password())
    answer = client.post(f"/instruments/people/{administrator.pk}/second-step/")
    assert answer.headers["Location"] == ME
    assert steps.has_second_step(administrator)


def test_pages_of_the_log_in_hold_no_script_but_our_own(passkey):
    client = by_password()
    answer = client.get(SECOND)
    assert "unsafe" not in answer.headers["Content-Security-Policy"]
    assert all("src=" in tag or "application/json" in tag for tag in re.findall(r"<script[^>]*>", answer.text))
