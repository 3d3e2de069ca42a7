"""Tries are counted before they are looked at, whoever makes them at once; what is kept says nothing of anybody."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from core.caps import DAY, QUARTER, Source
from core.exceptions import PausedError, RefusedError
from core.models import LogInTry
from core.services.tries import clear_tries, give_back, take_try
from tests.contests import at_once
from tests.factories import NOW

STRANGER = Source(name="n", address="a", network="w", device="")
OWN = STRANGER._replace(device="d")


def passes(source: Source = STRANGER, *, at=NOW, times: int = 1) -> int:
    """How many of so many tries pass, all of them wrong."""
    count = 0
    for _ in range(times):
        try:
            take_try(source=source, at=at)
        except PausedError:
            continue
        count += 1
    return count


@pytest.fixture
def figures(settings, db):
    settings.LOG_IN_TRIES = 3
    return settings


def test_as_many_pass_as_the_settings_say_and_a_pause_is_not_made_longer_by_trying(figures):
    assert passes(times=9) == 3
    for minutes in range(15):
        assert passes(at=NOW + timedelta(minutes=minutes)) == 0
    assert passes(at=NOW + QUARTER, times=9) == 3


@pytest.mark.parametrize(
    ("setting", "sources"),
    [
        ("LOG_IN_TRIES", [STRANGER] * 5),
        ("LOG_IN_TRIES", [OWN] * 5),
        ("LOG_IN_TRIES_PER_NAME", [STRANGER._replace(network=f"{one}", address=f"{one}") for one in range(5)]),
        ("LOG_IN_TRIES_PER_ADDRESS", [STRANGER._replace(name=f"{one}") for one in range(5)]),
        ("LOG_IN_TRIES_PER_NETWORK", [STRANGER._replace(name=f"{one}", address=f"{one}") for one in range(5)]),
        ("LOG_IN_NAMES_PER_NETWORK", [STRANGER._replace(name=f"{one}", address=f"{one}") for one in range(5)]),
    ],
    ids=["name-and-network", "device", "name", "address", "network", "names"],
)
def test_each_setting_bites_at_its_figure(figures, setting, sources):
    figures.LOG_IN_TRIES = 1000
    setattr(figures, setting, 3)
    assert [passes(source) for source in sources] == [1, 1, 1, 0, 0]


def test_a_known_device_goes_on_whatever_strangers_try_and_has_no_more_tries_than_they(figures):
    figures.LOG_IN_TRIES_PER_NAME = figures.LOG_IN_TRIES_PER_ADDRESS = figures.LOG_IN_TRIES_PER_NETWORK = 4
    figures.LOG_IN_NAMES_PER_NETWORK = 2
    for name in ("n", "o", "p"):
        passes(STRANGER._replace(name=name), times=5)
    assert passes() == 0
    assert passes(OWN, times=9) == 3
    assert passes(OWN._replace(network="elsewhere", address="elsewhere"), times=9) == 0


def test_what_a_known_device_gets_wrong_keeps_no_stranger_out(figures):
    passes(OWN, times=9)
    assert passes(times=9) == 3


def test_a_known_device_has_four_times_as_many_in_a_day_and_no_more(figures):
    hours = [NOW + timedelta(minutes=30 * step) for step in range(40)]
    assert sum(passes(OWN, at=at, times=5) for at in hours) == 12
    assert passes(OWN, at=NOW + DAY, times=5) == 3


def test_a_right_one_is_given_back_and_getting_in_begins_the_name_anew_there_alone(figures):
    for _ in range(9):
        give_back(taken=take_try(source=STRANGER, at=NOW))
    passes(times=2)
    elsewhere = STRANGER._replace(network="x")
    passes(elsewhere, times=2)
    passes(OWN, times=2)
    clear_tries(source=STRANGER)
    assert set(LogInTry.objects.values_list("network", "device")) == {("x", ""), ("w", "d")}
    clear_tries(source=OWN)
    assert set(LogInTry.objects.values_list("network", "device")) == {("x", "")}


def test_other_names_of_the_network_keep_their_count(figures):
    passes(STRANGER._replace(name="o"), times=2)
    clear_tries(source=STRANGER)
    assert LogInTry.objects.count() == 2


@pytest.mark.parametrize("back", [timedelta(minutes=1), timedelta(days=400)])
def test_a_clock_set_back_ends_no_pause_and_makes_none_last(figures, back):
    passes(times=3)
    set_back = NOW - back
    assert passes(at=set_back) == 0
    assert passes(at=set_back + QUARTER - timedelta(seconds=1)) == 0
    assert passes(at=set_back + QUARTER) == 1


def test_what_is_kept_says_nothing_of_anybody(figures, client):
    sent = {"username": "wrong-box-password", "password": "open-sesame-please"}
    client.post("/log-in/", sent, REMOTE_ADDR="192.0.2.77")
    kept = " ".join(map(str, LogInTry.objects.values_list().get()))
    assert not any(word in kept for word in ("wrong", "open-sesame", "192.0.2.77"))


def test_a_name_that_nobody_can_have_is_refused_before_it_is_counted(figures, client):
    for name in ("a" * 81, "a" * 30_000, "a\x00b", " "):
        assert client.post("/log-in/", {"username": name, "password": "x"}).status_code == 200
    assert client.post("/log-in/", {"username": "a" * 100_000, "password": "x"}).status_code == 413
    assert client.post("/log-in/", {"username": "director"}).status_code == 200
    assert not LogInTry.objects.exists()


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("source", [STRANGER, OWN], ids=["stranger", "device"])
def test_of_twenty_at_once_no_more_pass_than_may(source):
    def attempt() -> None:
        try:
            take_try(source=source, at=NOW)
        except PausedError as error:
            raise RefusedError from error  # as the contest tells a refusal

    answers = at_once(*[attempt] * 20)
    assert (len([one for one in answers if one is None]), LogInTry.objects.count()) == (5, 5)


@pytest.mark.django_db(transaction=True)
def test_of_twenty_wrong_passwords_at_once_no_more_are_looked_at_than_may(director):
    def attempt() -> int:
        return Client().post("/log-in/", {"username": "director", "password": "wrong"}).status_code

    answers = at_once(*[attempt] * 20)
    assert sorted(answers) == [200] * 5 + [429] * 15
