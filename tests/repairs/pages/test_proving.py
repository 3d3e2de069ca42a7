from __future__ import annotations

from types import SimpleNamespace

import pytest

from inventory.catalog.load import catalog
from repairs.pages import proving
from repairs.pages.proving import limits_of, notes_of, rechecks
from repairs.selectors.planning import job_state
from repairs.services.jobs import open_job
from tests.factories import NOW, make_bench, make_ready_instrument
from tests.repairs.makers import LEAKING_CORK, do_next, fresh, make_job, work_to_the_proof


def test_each_done_method_asks_for_its_rechecks_once_for_each_part(school, tech):
    job = make_job(school=school, actor=tech)
    assert rechecks(job_state(fresh(job))) == []
    do_next(job, "freed")
    method = catalog().methods["free_valve_slide"]
    asked = rechecks(job_state(fresh(job)))
    roles = catalog().roles
    fitting = {fault for fault in method.recheck for part in job.instrument.parts if fault in roles[part.role].faults}
    assert {line.fault for line in asked} == fitting
    assert len({line.code for line in asked}) == len(asked)
    own = next(line for line in asked if line.fault == "solder_broken")
    assert own.parts == (("third_valve_slide", "third valve slide"),)


def test_every_check_names_a_part_or_where_the_work_was(school, tech):
    job = make_job(school=school, actor=tech)
    do_next(job, "freed")
    state = job_state(fresh(job))
    lines = rechecks(state)
    assert "Third valve slide" in {line.where for line in lines}
    assert all(line.where for line in lines)
    slide = next(iter(state.tries))
    elsewhere = [line for line in lines if len(line.parts) > 1]
    assert {line.where for line in elsewhere} <= {"Near the third valve slide"}
    assert all(line.code.endswith(slide.part) for line in elsewhere)


def test_the_limits_to_begin_with_are_those_that_remain(school, tech):
    job = make_job(school=school, actor=tech)
    state = job_state(fresh(job))
    assert limits_of(state) == " ".join(state.standing.judgement.limits)
    assert limits_of(state)
    do_next(job, "freed")
    assert limits_of(job_state(fresh(job))) == ""


def test_limits_that_do_not_fit_are_left_out_whole():
    def limited(*limits):
        return SimpleNamespace(standing=SimpleNamespace(judgement=SimpleNamespace(limits=limits)))

    assert limits_of(limited("a" * 400, "b.")) == "a" * 400
    assert limits_of(limited("a" * 401, "b.", "c.")) == "b. c."


def test_what_did_not_work_asks_for_nothing(school, tech):
    job = make_job(school=school, actor=tech)
    do_next(job, "still_stuck")
    assert rechecks(job_state(fresh(job))) == []


@pytest.mark.parametrize("kind", sorted(catalog().kinds))
def test_every_kind_has_a_play_test_and_notes_or_none(school, tech, kind):
    instrument = make_ready_instrument(school=school, kind_code=kind)
    assert catalog().play_tests[instrument.kind.play_test].play
    notes = notes_of(job_state(open_job(instrument=instrument, bench=make_bench(school=school), actor=tech, at=NOW)))
    assert all(isinstance(note, str) for note in notes)
    assert bool(notes) or instrument.kind.family in {"percussion", "string"}


def test_what_may_be_anywhere_is_not_asked_again_of_one_part(school, tech, monkeypatch):
    """A bath may loosen any water-key cork; the one put on afterwards is among them."""
    job = make_job(school=school, actor=tech, findings=[("leadpipe", "lime_scale", "moderate"), LEAKING_CORK])
    state = job_state(work_to_the_proof(job))
    corks = [line for line in rechecks(state) if line.fault == LEAKING_CORK[1]]
    assert [line.where for line in corks] == ["Tuning slide water key, third slide water key"]
    assert len(corks[0].parts) == 2
    monkeypatch.setattr(proving, "MOST_NAMED", 1)
    corks = [line for line in rechecks(state) if line.fault == LEAKING_CORK[1]]
    assert [line.where for line in corks] == ["Anywhere on the instrument"]
