"""How an instrument leaves, in words."""

from __future__ import annotations

from core.models import Event
from desk.pages.history import sentence


def test_the_history_says_how_it_left():
    assert sentence(Event(act="left_fleet", after={"way": "traded_in"})) == "Out of the fleet: Traded in"
    assert sentence(Event(act="left_fleet", after={})) == "Out of the fleet: "
    assert "not used again" in sentence(Event(act="registered_in_error", after={}))
