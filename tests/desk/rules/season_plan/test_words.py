"""Every reason has its sentence."""

from __future__ import annotations

from desk.rules.season_plan import Reason, why_words


def test_every_reason_has_a_sentence_of_its_own():
    words = [why_words(why) for why in Reason]
    assert len(set(words)) == len(Reason)
    assert all(one[0].isupper() and not one.endswith(".") for one in words)
