"""Published guidance, held against what the forms of the log-in refuse.

NIST SP 800-63B, section 5.1.1.2 (2017, updates of 2020) and revision 4 (2025): 8 characters or more (12 is ours), 64 or
more accepted, all printable characters and the space, Unicode, no rule about kinds of characters, and a comparison with
values that are common, repetitive, sequential, or made of the service's name, the user's name and the like.
"""

from __future__ import annotations

import unicodedata

import pytest
from django.conf import settings
from django.contrib.auth.password_validation import get_password_validators, validate_password
from django.core.exceptions import ValidationError

from core.models import User
from core.passwords import left_of, normalized, runs, unit_of
from core.services.accounts import check_password_rules
from inventory.exceptions import RefusedError
from tests.factories import make_district, make_school, make_user

pytestmark = pytest.mark.django_db


def why(password: str, user: User | None = None) -> str:
    with pytest.raises(ValidationError) as refused:
        validate_password(password, user)
    return " ".join(refused.value.messages)


@pytest.mark.parametrize(
    ("password", "reason"),
    [
        ("short words", "too short"),
        ("aaaaaaaaaaaa", "same few characters"),
        ("abababababab", "same few characters"),
        ("abcabcabcabc", "same few characters"),
        ("123412341234", "same few characters"),
        ("horse.horse.horse", "one piece over and over"),
        ("trombtrombtromb", "one piece over and over"),
        ("letmein-letmein", "one piece over and over"),
        ("abcdefghijkl", "mostly a run"),
        ("zyxwvutsrqponm", "mostly a run"),
        ("123456789012", "mostly a run"),
        ("qwertyuiopasdfgh", "mostly a run"),
        ("password2026!", "guessed first"),
        ("Iloveyou!!!!", "guessed first"),
        ("passwordpassword", "guessed first"),
        ("Hornbook-2026", "name of the district"),
        ("hornbookhornbook", "name of the district"),
    ],
)
def test_what_is_guessed_first_is_refused_with_its_reason(password, reason):
    assert reason in why(password)


def test_the_names_of_district_and_school_do_not_carry_a_password():
    make_district(name="Quarry Lake Unified")
    make_school(name="Alder Creek Middle")
    for password in ("QuarryLake2026", "quarry-lake-unified", "AlderCreekMiddle", "aldercreek!!!!"):
        assert "name of the district" in why(password)
    validate_password("the creek freezes in march")


def test_ones_own_name_does_not_carry_a_password():
    person = User(username="marlow.finch", name="Marlow Finch")
    assert "similar" in why("marlow.finch1", person)


@pytest.mark.parametrize(
    "password",
    [
        "open-the-water-key",
        "valve-oil-and-patience",
        "only small letters and spaces",
        "nofiguresnocapitals",
        "четыре медных трубы",
        "pingüino en el tejado",
        "x9$Kq2!vLm8#",
        "🎺🎷🥁🎻🪕🎹🪗🪘🎸🪈🎤🎧",
    ],
)
def test_no_kind_of_character_is_asked_for_or_refused(password):
    validate_password(password)


def test_a_hundred_characters_are_fine():
    validate_password(
        "seven old trombones wait behind the door of the band room until somebody oils each of their slides"
    )


def test_every_sentence_says_what_to_do_without_a_colon_or_code():
    for validator in get_password_validators(settings.AUTH_PASSWORD_VALIDATORS):
        assert validator.get_help_text()


def test_all_reasons_are_said_at_once():
    with pytest.raises(RefusedError) as refused:
        check_password_rules(password="aaaa")
    assert "too short" in str(refused.value)
    assert "same few characters" in str(refused.value)


def test_one_password_however_the_keyboard_composed_it():
    person = make_user()
    composed, apart = (unicodedata.normalize(form, "über die Brücke") for form in ("NFC", "NFD"))
    assert composed != apart
    person.set_password(apart)
    assert person.check_password(composed)
    assert person.check_password(apart)
    assert not person.check_password("uber die Brucke")


def test_a_password_set_before_they_were_normalized_still_opens():
    person = make_user()
    apart = unicodedata.normalize("NFD", "über die Brücke")
    super(User, person).set_password(apart)
    assert person.check_password(apart)


def test_an_unusable_password_stays_unusable():
    person = make_user()
    person.set_password(None)
    assert not person.has_usable_password()


@pytest.mark.parametrize(
    ("text", "unit"), [("abcabcab", "abc"), ("aaaa", "a"), ("abcd", "abcd"), ("abcabx", "abcabx"), ("", "")]
)
def test_what_a_text_repeats(text, unit):
    assert unit_of(text) == unit


def test_runs_go_up_down_and_along_the_keyboard():
    assert list(runs("abcy321qwe")) == ["abc", "y", "321", "qwe"]
    assert left_of("abcy321qwe") == 2 + 1 + 2 + 2
    assert left_of("ab1") == 3


def test_normalizing_is_nfkc():
    assert normalized("ﬁfth") == "fifth"
