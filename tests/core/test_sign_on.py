from __future__ import annotations

import pytest

from core.sign_on import Question, SignOnError, address_to_ask, is_fit, provider
from tests.sign_on_provider import CLIENT, SECRET, serving


@pytest.fixture
def running(settings):
    with serving() as one:
        settings.SIGN_ON_ISSUER = one.issuer
        settings.SIGN_ON_CLIENT_ID, settings.SIGN_ON_CLIENT_SECRET = CLIENT, SECRET
        yield one


@pytest.mark.parametrize(
    ("address", "fit"),
    [
        ("https://sign-on.district.example/keys", True),
        ("http://127.0.0.1:8000/keys", True),
        ("http://sign-on.district.example/keys", False),
        ("http://127.0.0.1.elsewhere.example/keys", False),
        ("file:///etc/hostname", False),
        ("", False),
    ],
)
def test_only_https_or_this_machine_is_asked(address, fit):
    assert is_fit(address) is fit


def test_no_two_questions_are_alike():
    asked = [Question.new() for _ in range(50)]
    assert len({text for one in asked for text in (one.state, one.nonce, one.verifier)}) == 150


def test_a_redirect_of_the_provider_is_not_followed(running):
    running.config = {"authorization_endpoint": f"{running.issuer}/authorize?tenant=7"}
    address = address_to_ask(Question("s", "n", "v"), back="https://horns.example/log-in/sign-on/")
    assert address.startswith(f"{running.issuer}/authorize?tenant=7&response_type=code&")
    running.respond = lambda *_: (302, {}, "https://elsewhere.example/")
    with pytest.raises(SignOnError, match="did not answer"):
        provider()


def test_an_answer_of_endless_length_is_cut_and_refused(running):
    running.config = {"padding": "x" * 300_000}
    with pytest.raises(SignOnError):
        provider()


def test_nobody_there_is_said_without_an_address(settings):
    settings.SIGN_ON_ISSUER = "http://127.0.0.1:9"
    with pytest.raises(SignOnError) as refused:
        provider()
    assert "127.0.0.1" not in str(refused.value)
