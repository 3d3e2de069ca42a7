from __future__ import annotations

from inventory.models import Instrument
from inventory.pages.differences import difference_words


def test_each_wrong_column_is_a_sentence_of_its_own():
    instrument = Instrument(asset_number="TD-1", verdict="plays", limits=[])
    assert difference_words(instrument, {}) == []
    assert difference_words(instrument, {"verdict": "does_not_play", "limits": ["low D"]}) == [
        "TD-1: verdict is 'plays', the facts say 'does_not_play'",
        "TD-1: limits is [], the facts say ['low D']",
    ]
