"""Outcomes of an attempt."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.rules.facts import Owed
from repairs.rules.facts import Outcome, cleaning_of


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
        ("reeds_out", "clarinet_bb", None),  # its mouthpiece is still to wash
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
