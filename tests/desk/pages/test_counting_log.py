"""Counts in the log."""

from __future__ import annotations

import pytest

from core.models import Event
from desk.pages.history import sentence


@pytest.mark.parametrize(
    ("act", "after", "words"),
    [
        ("sighted", {"outcome": "found"}, "Seen in a count"),
        ("sighted", {"outcome": "other_room"}, "Seen in a count: found in another room"),
        ("count_signed", {}, "Count signed"),
    ],
)
def test_counts_are_said_in_words(act, after, words):
    assert sentence(Event(act=act, after=after)) == words
