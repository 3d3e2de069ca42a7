"""Outcomes of an attempt."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.rules.facts import Owed
from repairs.rules.facts import Outcome, cleaners_for, cleaning_of, hygiene_left


@pytest.mark.parametrize("outcome", list(Outcome))
def test_an_outcome_is_a_success_a_halt_or_neither(outcome):
    assert outcome.is_success == (outcome in {Outcome.DONE, Outcome.FREED})
    assert outcome.is_halt == (outcome in {Outcome.STOPPED, Outcome.DAMAGED})
    assert not (outcome.is_success and outcome.is_halt)


@pytest.mark.parametrize(
    ("method", "kind", "done"),
    [
        ("mouthpiece_sanitize", "trumpet", Owed.HYGIENE),
        ("lip_plate_clean", "flute", Owed.HYGIENE),
        ("bocal_rinse", "bassoon", Owed.HYGIENE),
        ("reeds_out", "clarinet_bb", Owed.HYGIENE),
        ("neck_swab", "sax_alto", Owed.HYGIENE),
        ("soap_bath_brass", "trumpet", Owed.FULL),
        ("hand_clean_woodwind", "clarinet_bb", Owed.FULL),
        ("corrosion_wipe", "trumpet", None),  # a patch, not all of it
        ("vinegar_descale", "trumpet", None),  # one part of it
        ("mold_clean", "trumpet", None),  # brass is clean when it has been in the water
        ("case_clean_repair", "trumpet", None),
    ],
)
def test_which_owed_cleaning_work_on_the_bench_is(method, kind, done):
    assert cleaning_of(catalog().methods[method], kind=catalog().kinds[kind]) is done


@pytest.mark.parametrize(
    ("kind", "done", "left"),
    [
        ("oboe", "", "reeds_out"),
        ("oboe", "reeds_out", ""),
        ("clarinet_bb", "mouthpiece_sanitize", "reeds_out"),
        ("clarinet_bb", "reeds_out mouthpiece_sanitize", ""),
        ("sax_alto", "mouthpiece_sanitize reeds_out leak_test", "neck_swab"),
        ("trumpet", "", "mouthpiece_sanitize"),
        ("flute", "lip_plate_clean", ""),
        ("timpani_set", "", ""),
    ],
)
def test_what_touches_a_mouth_is_clean_once_all_of_it_was_done(kind, done, left):
    parts = catalog().kinds[kind].parts
    assert hygiene_left(parts, methods=catalog().methods.values(), done=done.split()) == set(left.split())


@pytest.mark.parametrize(
    ("method", "is_asked"),
    [("mouthpiece_sanitize", True), ("lip_plate_clean", True), ("reeds_out", False), ("", False)],
)
def test_only_a_wash_of_what_touches_a_mouth_asks_for_its_product(method, is_asked):
    trade = catalog()
    assert bool(cleaners_for(method, kind=trade.kinds["flute"], catalog=trade)) is is_asked
