"""What is to be cleaned, and what was."""

from __future__ import annotations

from inventory.rules.facts import Owed
from inventory.selectors.cleaning import cleaned_lately, to_clean
from inventory.services.care import record_cleanings, require_hygiene
from tests.factories import NOW, make_ready_instrument


def test_what_is_at_hand_and_owes_is_to_be_cleaned_and_one_act_is_one_line(school, director):
    flute, sax = (make_ready_instrument(school=school, kind_code=kind) for kind in ("flute", "sax_alto"))
    gift, foreign = make_ready_instrument(school=school, acquired_by="gift"), make_ready_instrument()
    make_ready_instrument(school=school)
    for one in (sax, flute, foreign):
        require_hygiene(instrument=one, actor=director, at=NOW)
    assert list(to_clean(director)) == [flute, sax, gift]
    record_cleanings(instruments=[flute, gift], done=[Owed.HYGIENE], product="soap", actor=director, at=NOW)
    assert list(to_clean(director)) == [sax, gift]  # the gift still owes the cleaning of all of it
    (act,) = cleaned_lately(director, most=5)
    assert (act.at, act.by, act.product, act.count) == (NOW, director, "soap", 2)
