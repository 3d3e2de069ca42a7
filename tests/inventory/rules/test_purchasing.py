"""What is requested already counts once. Worked by hand."""

from __future__ import annotations

from collections import Counter

from inventory.rules.purchasing import already_requested


def test_what_is_requested_serves_the_first_that_want_it_and_stays_as_it_is():
    requested = Counter(tuba=3, flute=1)
    assert already_requested([("tuba", 2), ("flute", 2), ("tuba", 2), ("oboe", 1)], requested=requested) == [2, 1, 1, 0]
    assert requested == Counter(tuba=3, flute=1)
