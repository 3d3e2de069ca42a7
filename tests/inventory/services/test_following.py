"""Who keeps something of each instrument is called when one is registered or changes its options."""

from __future__ import annotations

from inventory.services import following
from inventory.services.registering import change_instrument
from tests.factories import NOW, make_instrument


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
