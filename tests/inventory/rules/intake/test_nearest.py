"""What somebody may have meant."""

from __future__ import annotations

import pytest

from inventory.rules.intake.nearest import nearest_kinds

WORDS = {
    "trumpet": "Trumpet",
    "tpt": "Trumpet",
    "trombone": "Trombone",
    "bass clarinet": "Bass clarinet",
    "clarinet": "Clarinet in Bb",
    "flute": "Flute",
}


@pytest.mark.parametrize(
    ("said", "first"),
    [("trumpit", "Trumpet"), ("Trombon", "Trombone"), ("clarinet, bas", "Bass clarinet"), ("fluet", "Flute")],
)
def test_the_likeliest_comes_first(said, first):
    assert nearest_kinds(said, WORDS)[0] == first


def test_each_kind_is_offered_once_and_nothing_is_offered_for_what_is_like_none():
    assert len(nearest_kinds("clarinet trumpet", WORDS)) == len(set(nearest_kinds("clarinet trumpet", WORDS)))
    assert nearest_kinds("zzxq", WORDS) == []
