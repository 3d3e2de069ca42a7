"""Who keeps something of each instrument is called when one is registered or changes its options."""

from __future__ import annotations

from inventory.services import following
from inventory.services.care import record_play_test
from inventory.services.registering import change_instrument
from tests.factories import NOW, make_instrument, make_ready_instrument


def test_followers_are_called_once_each_with_what_changed(school, director, monkeypatch):
    monkeypatch.setattr(following, "_followers", list(following._followers))
    called: list[list[int]] = []
    for _ in range(2):
        following.register(called.append)
    instrument = make_instrument(school=school)
    change_instrument(instrument=instrument, notes="Back from the parade.", actor=director, at=NOW)
    assert called == [[instrument.pk]]
    change_instrument(instrument=instrument, options={"third_slide": "none"}, actor=director, at=NOW)
    assert called == [[instrument.pk], [instrument.pk]]


def test_those_who_follow_play_tests_are_called_once_with_each(school, director, monkeypatch):
    monkeypatch.setattr(following, "_test_followers", [])
    called: list[tuple[object, ...]] = []

    def follow(*, play_test, actor, at):
        called.append((play_test, actor, at))

    for _ in range(2):
        following.register_of_tests(follow)
    test = record_play_test(instrument=make_ready_instrument(school=school), result="pass", actor=director, at=NOW)
    assert called == [(test, director, NOW)]
