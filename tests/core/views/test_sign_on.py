"""Sign-on against a real provider on this machine, honest and lying."""

from __future__ import annotations

import time
from urllib.parse import parse_qs, urlsplit

import pytest
from django.test import Client
from django.utils import timezone

from core.models import Event, SignOn, User
from core.services.sign_on import link_sign_on
from core.views.sign_on import SESSION_KEY
from tests.core.services.test_second_steps import code_now, with_app
from tests.factories import NOW, PASSWORD, make_user
from tests.sign_on_provider import CLIENT, OTHER_KEY, SECRET, serving

pytestmark = pytest.mark.django_db
MINE = {"is_mine": "on", "password": PASSWORD}
SIGN_ON, LOG_IN, LINK, ME, TODAY = "/log-in/sign-on/", "/log-in/", "/me/sign-on/", "/me/", "/"


@pytest.fixture
def provider(settings):
    with serving() as running:
        settings.SIGN_ON_ISSUER = running.issuer
        settings.SIGN_ON_CLIENT_ID, settings.SIGN_ON_CLIENT_SECRET = CLIENT, SECRET
        yield running


@pytest.fixture
def linked(director, provider):
    return link_sign_on(user=director, issuer=provider.issuer, subject=provider.subject, actor=director, at=NOW)


def sent_out(client: Client, **query: str) -> dict[str, str]:
    """Begin, and return what the browser is sent to the provider with."""
    answer = client.get(SIGN_ON, query)
    return {name: values[0] for name, values in parse_qs(urlsplit(answer.headers["Location"]).query).items()}


def come_back(client: Client, provider, **change: str):
    """Sign on at the provider and come back, with parts of the answer changed."""
    back = urlsplit(provider.grant(sent_out(client)))
    query = {name: values[0] for name, values in parse_qs(back.query).items()} | change
    return client.get(back.path, query)


def is_in(client: Client) -> bool:
    return client.get(TODAY).status_code == 200


def test_whoever_is_linked_comes_in(client, linked, provider):
    assert come_back(client, provider).headers["Location"] == TODAY
    assert is_in(client)
    assert provider.asked.count("/token") == 1


def test_sign_on_goes_on_where_the_log_in_was_asked_for_and_to_no_other_site(client, linked, provider):
    for wanted, led in (("/loans/", "/loans/"), ("https://elsewhere.example/", TODAY)):
        back = urlsplit(provider.grant(sent_out(client, next=wanted)))
        assert client.get(f"{back.path}?{back.query}").headers["Location"] == led


def test_the_log_in_offers_it_only_where_it_is_set_up(client, provider, settings):
    assert "Log in with your district account" in client.get(LOG_IN).text
    settings.SIGN_ON_ISSUER = ""
    assert "Log in with your" not in client.get(LOG_IN).text
    assert "not set up" in client.get(SIGN_ON).text


LIES = {
    "another issuer": {"claims": {"iss": "https://elsewhere.example"}},
    "no issuer": {"claims": {"iss": None}},
    "for another program": {"claims": {"aud": "payroll"}},
    "for two programs": {"claims": {"aud": [CLIENT, "payroll"], "azp": "payroll"}},
    "for two programs, nobody says which": {"claims": {"aud": [CLIENT, "payroll"]}},
    "no audience": {"claims": {"aud": None}},
    "another nonce": {"claims": {"nonce": "of-another-time"}},
    "no nonce": {"claims": {"nonce": None}},
    "a nonce that is no text": {"claims": {"nonce": 7}},
    "run out": {"claims": {"exp": int(time.time()) - 600}},
    "never runs out": {"claims": {"exp": None}},
    "not yet": {"claims": {"iat": int(time.time()) + 3600}},
    "no subject": {"claims": {"sub": None}},
    "an empty subject": {"claims": {"sub": ""}},
    "a subject that is no text": {"claims": {"sub": 7}},
    "a subject too long": {"claims": {"sub": "x" * 256}},
    "signed by another": {"key": OTHER_KEY},
    "another key's name": {"header": {"kid": "two"}},
    "signed with the secret": {"key": SECRET * 3, "algorithm": "HS256"},
    "not signed": {"key": None, "algorithm": "none"},
    "says it is another": {"config": {"issuer": "https://elsewhere.example"}},
    "keys elsewhere without https": {"config": {"jwks_uri": "http://elsewhere.example/keys"}},
    "no keys": {"config": {"jwks_uri": None}},
    "tokens elsewhere": {"config": {"token_endpoint": "file:///etc/hostname"}},
    "no token": {"answer": {"access_token": "x"}},
    "a broken token": {"answer": {"id_token": "x.y.z"}},
    "a list": {"answer": [1]},
}


@pytest.mark.filterwarnings("ignore::jwt.warnings.InsecureKeyLengthWarning")
@pytest.mark.parametrize("lie", LIES.values(), ids=LIES.keys())
def test_an_answer_that_is_not_right_lets_nobody_in(client, linked, provider, lie, caplog):
    asked = sent_out(client)
    for name, value in lie.items():
        setattr(provider, name, value)
    back = urlsplit(provider.grant(asked))
    answer = client.get(f"{back.path}?{back.query}")
    assert answer.headers["Location"] == LOG_IN
    assert "did not work" in client.get(LOG_IN).text
    assert not is_in(client)
    assert "unlinked_account" not in client.session
    (line,) = [one.getMessage() for one in caplog.records if one.name == "core.views.sign_on"]
    assert provider.subject not in line
    assert "dana" not in line


def test_the_state_is_the_browsers_own(client, linked, provider):
    assert come_back(client, provider, state="of-somebody-else").headers["Location"] == LOG_IN
    other = Client()
    back = urlsplit(provider.grant(sent_out(other)))
    assert client.get(f"{back.path}?{back.query}").headers["Location"] == LOG_IN
    assert not is_in(client)


def test_an_answer_counts_once(client, linked, provider):
    back = urlsplit(provider.grant(sent_out(client)))
    assert client.get(f"{back.path}?{back.query}").headers["Location"] == TODAY
    client.post("/log-out/")
    assert client.get(f"{back.path}?{back.query}").headers["Location"] == LOG_IN
    assert not is_in(client)


def test_a_wrong_answer_uses_the_question_up(client, linked, provider):
    back = urlsplit(provider.grant(sent_out(client)))
    client.get(back.path, {"state": "guessed", "code": "x"})
    assert client.get(f"{back.path}?{back.query}").headers["Location"] == LOG_IN


def test_a_code_of_another_browser_is_worth_nothing_here(client, linked, provider):
    """The provider ties the code to the browser that asked (RFC 7636), and the token to its nonce."""
    theirs = parse_qs(urlsplit(provider.grant(sent_out(Client()))).query)["code"][0]
    assert come_back(client, provider, code=theirs).headers["Location"] == LOG_IN
    assert not is_in(client)


def test_an_answer_that_took_too_long_counts_for_nothing(client, linked, provider):
    asked = sent_out(client)
    session = client.session
    session[SESSION_KEY] = session[SESSION_KEY] | {"at": session[SESSION_KEY]["at"] - 601}
    session.save()
    back = urlsplit(provider.grant(asked))
    assert client.get(f"{back.path}?{back.query}").headers["Location"] == LOG_IN


def test_a_refusal_at_the_provider_is_said_kindly(client, linked, provider):
    asked = sent_out(client)
    answer = client.get(SIGN_ON, {"error": "access_denied", "state": asked["state"]}, follow=True)
    assert "did not work" in answer.text


def test_while_the_provider_is_down_a_local_administrator_logs_in(client, administrator, provider):
    provider.is_down = True
    assert client.get(SIGN_ON).headers["Location"] == LOG_IN
    assert client.post(LOG_IN, {"username": "administrator", "password": PASSWORD}).headers["Location"] == TODAY


def test_no_account_is_made_of_a_student(client, director, provider):
    """Every student has an account at the provider; the e-mail of a director, or their user name, changes nothing."""
    User.objects.filter(pk=director.pk).update(email="dana@district.example")
    provider.claims = {"preferred_username": "director", "name": "Dana Director"}
    before = User.objects.count()
    answer = come_back(client, provider)
    assert answer.headers["Location"] == LOG_IN
    assert not is_in(client)
    assert User.objects.count() == before
    assert not SignOn.objects.exists()


def test_a_person_kept_out_is_told_what_a_stranger_is_told(client, linked, director, provider):
    User.objects.filter(pk=director.pk).update(is_active=False)
    kept_out = come_back(client, provider)
    assert not is_in(client)
    stranger = Client()
    provider.subject = "account-of-nobody"
    unknown = come_back(stranger, provider)
    assert kept_out.headers["Location"] == unknown.headers["Location"] == LOG_IN
    words = "That account is not linked to anybody here"
    assert words in client.get(LOG_IN).text
    assert words in stranger.get(LOG_IN).text


def test_the_same_subject_of_another_issuer_is_somebody_else(client, director, provider):
    link_sign_on(user=director, issuer="https://elsewhere.example", subject=provider.subject, actor=director, at=NOW)
    come_back(client, provider)
    assert not is_in(client)


def test_an_account_is_linked_once_by_who_gives_the_password_and_says_so(client, director, provider):
    come_back(client, provider)
    assert client.post(LOG_IN, {"username": "director", "password": PASSWORD}).headers["Location"] == LINK
    assert "dana@district.example" in client.get(LINK).text
    for typed in ({}, {"is_mine": "on"}, {"password": PASSWORD}, MINE | {"password": "wrong"}):
        assert client.post(LINK, typed).status_code == 422
    assert not SignOn.objects.exists()
    assert client.post(LINK, MINE).headers["Location"] == ME
    link = SignOn.objects.get()
    assert (link.user, link.issuer, link.subject) == (director, provider.issuer, "account-7")
    event = Event.objects.get(act="sign_on_linked")
    assert (event.actor, event.after) == (director, {"issuer": provider.issuer})
    assert is_in(client)
    other = Client()
    assert come_back(other, provider).headers["Location"] == TODAY


def test_an_account_is_linked_from_the_own_page_too(client, director, provider):
    client.post(LOG_IN, {"username": "director", "password": PASSWORD})
    assert "Link your district account" in " ".join(client.get(ME).text.split())
    assert come_back(client, provider).headers["Location"] == LINK
    client.post(LINK, MINE)
    assert SignOn.objects.get().user == director


def test_what_was_left_by_somebody_before_is_not_linked_later(client, director, provider):
    come_back(client, provider)
    session = client.session
    session["unlinked_account"] = session["unlinked_account"] | {"at": session["unlinked_account"]["at"] - 901}
    session.save()
    assert client.post(LOG_IN, {"username": "director", "password": PASSWORD}).headers["Location"] == TODAY
    client.post(LINK, MINE)
    assert not SignOn.objects.exists()


def test_an_account_of_somebody_else_is_not_linked_twice(client, linked, tech, provider):
    User.objects.filter(pk=linked.user_id).update(is_active=False)
    come_back(client, provider)
    client.post(LOG_IN, {"username": "tech", "password": PASSWORD})
    answer = client.post(LINK, MINE)
    assert answer.status_code == 422
    assert "somebody else" in answer.text
    assert SignOn.objects.get().user_id == linked.user_id


def test_the_first_password_is_replaced_before_an_account_is_linked(client, director, provider):
    User.objects.filter(pk=director.pk).update(password_is_first=True)
    come_back(client, provider)
    client.post(LOG_IN, {"username": "director", "password": PASSWORD})
    assert client.get(LINK).headers["Location"] == "/me/password/"
    chosen = {"password": "seven-quiet-mutes", "again": "seven-quiet-mutes"}
    assert client.post("/me/password/", chosen).headers["Location"] == LINK


def test_sign_on_does_not_stand_in_for_the_second_step(client, linked, director, provider):
    secret, _ = with_app(director)
    assert come_back(client, provider).headers["Location"] == "/log-in/second-step/"
    assert not is_in(client)
    client.post("/log-in/second-step/", {"code": code_now(secret, away=1)})
    assert is_in(client)


def test_a_link_is_removed_by_oneself_or_an_administrator(client, linked, director, administrator, provider):
    client.post(LOG_IN, {"username": "director", "password": PASSWORD})
    client.post("/me/sign-on/remove/")
    assert not SignOn.objects.exists()
    link_sign_on(user=director, issuer=provider.issuer, subject="x", actor=director, at=timezone.now())
    boss = Client()
    boss.force_login(administrator)
    assert "Unlink" in boss.get(f"/instruments/people/{director.pk}/").text
    boss.post(f"/instruments/people/{director.pk}/sign-on/")
    assert not SignOn.objects.exists()
    assert Event.objects.filter(act="sign_on_unlinked").count() == 2


def test_a_wrong_password_while_linking_counts_like_one_at_the_log_in(client, director, provider):
    client.post(LOG_IN, {"username": "director", "password": PASSWORD})
    come_back(client, provider)
    for _ in range(5):
        client.post(LINK, MINE | {"password": "guessed"})
    client.post(LINK, MINE)
    assert not SignOn.objects.exists(), "the right one no longer helps"


def test_a_link_made_or_removed_ends_every_other_session_of_the_person(client, director, administrator, provider):
    def elsewhere() -> Client:
        one = Client()
        one.force_login(User.objects.get(pk=director.pk))
        return one

    client.post(LOG_IN, {"username": "director", "password": PASSWORD})
    come_back(client, provider)
    other = elsewhere()
    client.post(LINK, MINE)
    assert (is_in(client), is_in(other)) == (True, False)
    by_account = Client()
    come_back(by_account, provider)
    client.post("/me/sign-on/remove/")
    assert (is_in(client), is_in(by_account)) == (True, False)
    link_sign_on(user=director, issuer=provider.issuer, subject="x", actor=director, at=timezone.now())
    other, boss = elsewhere(), Client()
    boss.force_login(administrator)
    page = f"/instruments/people/{director.pk}/"
    assert f"an account of {provider.issuer} too" in boss.get(page).text
    boss.post(f"{page}sign-on/")
    assert (is_in(boss), is_in(other)) == (True, False)
    assert "of http" not in boss.get(page).text


def test_what_the_browser_is_sent_with_holds_no_secret(client, provider):
    asked = sent_out(client)
    assert asked["code_challenge_method"] == "S256"
    assert asked["redirect_uri"] == "http://testserver/log-in/sign-on/"
    assert SECRET not in str(asked)
    assert client.session[SESSION_KEY]["verifier"] not in str(asked)


def test_somebody_new_is_not_asked_for_an_account(client, provider):
    make_user(username="newbie")
    client.post(LOG_IN, {"username": "newbie", "password": PASSWORD})
    assert "No account has signed on here recently" in client.get(LINK).text
