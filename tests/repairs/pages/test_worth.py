"""The figures of the worth page in words."""

from __future__ import annotations

from decimal import Decimal

from repairs.pages.worth import parts_words, settings_used, spent_words
from repairs.selectors.worth import SoundParts, Spent


def spent(minutes, bench, parts, shop, estimated=0):
    return Spent(
        minutes=Decimal(minutes),
        estimated_minutes=Decimal(estimated),
        bench_amount=Decimal(bench),
        parts_amount=Decimal(parts),
        shop_amount=Decimal(shop),
        bills_to_come=0,
    )


def test_what_was_spent_is_said_by_bench_parts_and_shops():
    assert spent_words(spent(20, 10, "3.50", 80)) == "20 bench minutes $10, parts $3.50, shops $80"
    words = "20 bench minutes (8 of them estimated) $10, parts $0, shops $0"
    assert spent_words(spent(20, 10, 0, 0, estimated=8)) == words
    assert spent_words(spent(0, 0, 0, 0)) == "nothing in the last twelve months"


def test_sound_parts_are_counted():
    assert parts_words(SoundParts(amount=Decimal(60), sound=11, total=12)) == "11 of 12 parts are sound"


def test_the_settings_used_have_notes():
    assert all(note.note for note in settings_used())
