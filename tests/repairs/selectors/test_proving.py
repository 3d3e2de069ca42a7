from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from repairs.selectors.planning import job_state
from repairs.selectors.proving import first_year_notes, proof_of
from tests.factories import make_instrument
from tests.repairs.makers import do_next, fresh, make_job


def test_each_done_method_asks_for_its_rechecks_once_for_each_part(school, tech):
    job = make_job(school=school, actor=tech)
    assert proof_of(job_state(fresh(job))).rechecks == ()
    do_next(job, "freed")
    method = catalog().methods["free_valve_slide"]
    proof = proof_of(job_state(fresh(job)))
    roles = catalog().roles
    fitting = {fault for fault in method.recheck for part in job.instrument.parts if fault in roles[part.role].faults}
    assert {line.fault for line in proof.rechecks} == fitting
    assert len({line.code for line in proof.rechecks}) == len(proof.rechecks)
    own = next(line for line in proof.rechecks if line.fault == "solder_broken")
    assert own.parts == (("third_valve_slide", "third valve slide"),)


def test_what_did_not_work_asks_for_nothing(school, tech):
    job = make_job(school=school, actor=tech)
    do_next(job, "still_stuck")
    assert proof_of(job_state(fresh(job))).rechecks == ()


@pytest.mark.parametrize("kind", sorted(catalog().kinds))
def test_every_kind_has_a_play_test_and_notes_or_none(school, kind):
    horn = make_instrument(school=school, kind_code=kind)
    assert catalog().play_tests[horn.kind.play_test].play
    assert all(isinstance(note, str) for note in first_year_notes(horn))
    assert bool(first_year_notes(horn)) or horn.kind.family in {"percussion", "string"}
