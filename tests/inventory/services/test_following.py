"""Who keeps something of each instrument is called when one is registered or changes its options."""

from __future__ import annotations

from inventory.services.care import record_play_test
from inventory.services.following import instruments_changed, play_tested
from inventory.services.registering import change_instrument
from tests.factories import NOW, make_instrument, make_ready_instrument


def test_what_changed_is_followed_once_and_nothing_else_is(school, director, monkeypatch):
    called: list[list[int]] = []
    monkeypatch.setattr(instruments_changed, "_function", called.append)
    instrument = make_instrument(school=school)
    change_instrument(instrument=instrument, notes="Back from the parade.", actor=director, at=NOW)
    assert called == [[instrument.pk]]
    change_instrument(instrument=instrument, options={"third_slide": "none"}, actor=director, at=NOW)
    assert called == [[instrument.pk], [instrument.pk]]


def test_each_play_test_is_followed_once(school, director, monkeypatch):
    called: list[dict[str, object]] = []
    monkeypatch.setattr(play_tested, "_function", lambda **said: called.append(said))
    test = record_play_test(instrument=make_ready_instrument(school=school), result="pass", actor=director, at=NOW)
    assert called == [{"play_test": test, "actor": director, "at": NOW}]
