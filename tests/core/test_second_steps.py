from __future__ import annotations

import base64
import json

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import hotp_value

from core import second_steps as steps
from core.models import User
from tests.factories import make_user

# RFC 6238 (2011), appendix B, SHA-1: the ASCII secret "12345678901234567890"; its eight digits, of which six are shown.
SECRET = base64.b32encode(b"12345678901234567890").decode()
VECTORS = [
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
]


@pytest.fixture
def clock(monkeypatch):
    def stand_at(seconds):
        monkeypatch.setattr("allauth.mfa.totp.internal.auth.time.time", lambda: seconds)

    return stand_at


@pytest.mark.parametrize(("at", "code"), VECTORS)
def test_codes_are_those_of_the_standard(clock, at, code):
    clock(at)
    assert steps.counter_of(SECRET, code[-6:]) == at // 30
    assert steps.counter_of(SECRET, "000000") is None


@pytest.mark.parametrize(("away", "is_taken"), [(-60, False), (-30, True), (0, True), (30, True), (60, False)])
def test_a_clock_half_a_minute_off_is_no_trouble(clock, away, is_taken):
    code = f"{hotp_value(SECRET, 1_000_000):06}"
    clock(1_000_000 * 30 + away)
    assert (steps.counter_of(SECRET, code) is not None) is is_taken


@pytest.mark.django_db
def test_each_code_works_once_and_none_before_it_afterwards(clock):
    clock(1_000_000 * 30)
    step = steps.add_app(make_user(), secret=SECRET, counter=999_998)
    before, now, after = (f"{hotp_value(SECRET, 1_000_000 + away):06}" for away in (-1, 0, 1))
    assert steps.takes_code(step, now)
    assert not steps.takes_code(step, now)
    assert not steps.takes_code(step, before)
    assert not steps.takes_code(Authenticator.objects.get(), now), "in another process"
    assert steps.takes_code(step, after)


@pytest.mark.django_db
def test_the_database_alone_makes_no_codes(settings):
    person = make_user()
    step = steps.add_app(person, secret=SECRET, counter=0)
    codes = steps.make_recovery_codes(person)
    kept = json.dumps([row.data for row in Authenticator.objects.all()])
    assert SECRET not in kept
    assert not any(code in kept for code in codes)
    settings.SECRET_KEY, old = "another-key-of-the-server" * 3, settings.SECRET_KEY
    assert not steps.takes_code(step, f"{hotp_value(SECRET, 1):06}")
    assert not steps.takes_recovery_code(person, codes[0])
    assert steps.recovery_codes_left(person) is None
    settings.SECRET_KEY_FALLBACKS = [old]
    assert steps.takes_recovery_code(person, codes[0])


@pytest.mark.django_db
def test_a_recovery_code_is_used_up_and_new_ones_end_the_old():
    person = make_user()
    codes = steps.make_recovery_codes(person)
    assert len(set(codes)) == 10
    assert all(len(code) == 12 for code in codes)
    assert steps.takes_recovery_code(person, f" {codes[3][:4]} {codes[3][4:]}")
    assert not steps.takes_recovery_code(person, codes[3])
    assert steps.recovery_codes_left(person) == 9
    assert not steps.takes_recovery_code(make_user(), codes[4])
    fresh = steps.make_recovery_codes(person)
    assert not steps.takes_recovery_code(person, codes[4])
    assert steps.takes_recovery_code(person, fresh[4])


@pytest.mark.django_db
def test_recovery_codes_alone_are_no_second_step():
    person = make_user()
    steps.make_recovery_codes(person)
    assert not steps.has_second_step(person)
    assert not steps.users_with_one()


def test_the_app_is_told_site_and_person():
    address = steps.app_address(User(username="dana", email="dana@district.example"), SECRET)
    assert address == f"otpauth://totp/dana?secret={SECRET}&issuer=Hornbook"
    assert steps.app_picture(address).startswith("<svg")


@pytest.mark.parametrize("sent", ["", "[]", "1", "{", "null", '"x"', "[" * 5_000, "9" * 5_000])
def test_what_is_no_answer_of_a_browser_is_none(sent):
    assert steps.credential_of(sent) is None
