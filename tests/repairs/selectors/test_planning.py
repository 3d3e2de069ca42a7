"""Plans of real rows."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.catalog.chart_schema import Chart
from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.models import Finding, Instrument
from inventory.rules.playing import playing
from inventory.services.registering import change_instrument
from repairs.models import Job
from repairs.pages.sheet import sheet_of
from repairs.rules.plan import RungState
from repairs.selectors.planning import (
    bench_for,
    job_state,
    job_states,
    jobs_with_next_step,
    learned,
    plan_for_instrument,
    plan_for_job,
    step_of,
)
from repairs.services.jobs import add_finding_to_job, begin_wait, give_up_job, open_job
from tests.factories import NOW, TODAY, make_inspection, make_instrument, make_ready_instrument
from tests.repairs.makers import LEAKING_CORK, STUCK, do_next, fresh, make_job, make_school_bench, read_cautions

LATER = NOW + timedelta(hours=5)


def test_without_a_job_the_schools_own_bench_plans(school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[STUCK], actor=tech)
    instrument = Instrument.objects.get(pk=instrument.pk)
    assert plan_for_instrument(instrument).bench == "school"
    bench = make_school_bench(school)
    assert bench_for(instrument).code == plan_for_instrument(instrument).bench == bench.code


def test_many_jobs_cost_what_one_costs(school, tech):
    first = make_job(school=school, actor=tech)
    for _ in range(4):
        make_job(school=school, actor=tech, bench=first.bench)
    jobs = list(Job.objects.for_table())
    taught = learned()
    with CaptureQueriesContext(connection) as one:
        job_states(jobs[:1], taught=taught)
    with CaptureQueriesContext(connection) as five:
        states = job_states(jobs, taught=taught)
    assert len(five) == len(one) == 3
    assert [state.job for state in states] == jobs


def test_an_outcome_is_part_of_the_next_plan(school, tech):
    job = make_job(school=school, actor=tech)
    first = plan_for_job(fresh(job)).next_step
    do_next(job, "still_stuck")
    assert first.key not in {step.key for step in plan_for_job(fresh(job)).steps}


def test_a_repair_that_did_not_hold_is_not_counted_as_done(school, tech):
    job = make_job(school=school, actor=tech, findings=[LEAKING_CORK])
    do_next(job)
    assert not Finding.objects.filter(instrument=job.instrument).standing().exists()
    part, fault, severity = LEAKING_CORK
    add_finding_to_job(job=job, part=part, fault=fault, severity=severity, actor=tech, at=LATER)
    state = job_state(fresh(job))
    assert {done.attempt.outcome.value for done in state.plan.done} == {"not_right"}
    planned = {one.fault for step in state.plan.steps for one in step.findings}
    assert fault in planned | {one.finding.fault for one in state.plan.send_out}
    assert state.attempts[0].outcome == "done"  # the record stays as it was


def test_a_rung_further_up_is_planned_as_if_those_before_it_were_left_out(school, tech):
    job = make_job(school=school, actor=tech)
    plan = plan_for_job(fresh(job))
    ladder = plan.ladders[0]
    other = ladder.ahead[-1] if ladder.ahead[-1].state is RungState.LATER else ladder.ahead[1]
    step = step_of(fresh(job), plan, other.step_key)
    assert step is not None
    assert step.rung == other.entry.code
    assert step_of(fresh(job), plan, "no_such_step") is None
    assert step_of(fresh(job), plan, ladder.ahead[0].step_key) == plan.step(ladder.ahead[0].step_key)


def test_the_line_of_a_job_says_what_waits_and_until_when(school, tech):
    job = make_job(school=school, actor=tech, findings=[("case", "odor_mold", "severe")])
    read_cautions(job, actor=tech, at=NOW)
    plan = plan_for_job(fresh(job))
    step = next(one for one in plan.steps if one.wait_h > 0 and not one.waits_on)
    clock = begin_wait(job=job, step_key=step.key, actor=tech, at=LATER)
    state = job_state(fresh(job))
    assert (state.at_hand.say, state.is_waiting, state.resting[0].waits_until) == (step.say, True, clock.waits_until)
    other = make_job(school=school, actor=tech, bench=job.bench, due_on=None)
    lines = jobs_with_next_step(tech)
    assert [one.job for one in lines] == [other, job]
    assert lines[0].at_hand.part_name == "third valve slide"


@pytest.mark.parametrize("limit", [1, 2])
def test_no_more_lines_than_asked_for(school, tech, limit):
    bench = make_job(school=school, actor=tech).bench
    make_job(school=school, actor=tech, bench=bench)
    make_job(school=school, actor=tech, bench=bench)
    assert len(jobs_with_next_step(tech, limit=limit)) == limit


def test_a_pad_that_leaks_after_the_repad_is_planned_though_the_repad_was_done(school, tech):
    pads = ["throat_A", "throat_Gs", "side4_trill", "side3_trill", "side2", "side1_Eb"]
    parts = ["throat_keys"] * 2 + ["side_keys"] * 4
    bad = [(part, "pad_torn", "severe", place) for part, place in zip(parts, pads, strict=True)]
    more = [("lower_keys", "pad_torn", "severe", place) for place in ("Ab_Eb_pad", "F_C_pad", "Fs_Cs_pad")]
    job = make_job(school=school, actor=tech, kind_code="clarinet_bb", findings=[*bad, *more])
    assert [do_next(job).attempt.method for _ in range(2)] == ["strip_keys", "repad_clarinet"]
    assert not Finding.objects.filter(instrument=job.instrument).standing().exists()
    add_finding_to_job(
        job=job, part="register_key", place="register_vent", fault="pad_leak", severity="severe", actor=tech, at=LATER
    )
    plan = plan_for_job(fresh(job))
    assert [step.method for step in plan.steps if step.findings] == ["pad_replace_one"]


# Kinds with a chart of its own for a choice: the chart of the kind alone gives other names or other cents.
OWN_CHARTS = [
    ("tuba", {"key": "CC"}),
    ("tuba", {"key": "Eb"}),
    ("tuba", {"key": "F"}),
    ("horn_single", {"key": "Bb"}),
    ("euphonium", {"clef": "treble"}),
    ("baritone_marching", {"clef": "treble"}),
]


@pytest.mark.parametrize(("kind", "options"), OWN_CHARTS)
def test_a_job_judges_by_the_chart_of_its_own_options(school, tech, kind, options):
    trade, whole = catalog(), catalog().kinds[kind]
    slide = next(part.code for part in whole.parts if part.valve == "3" or part.code.startswith("third_valve_slide"))
    instrument = make_instrument(school=school, kind_code=kind, options=options)
    make_inspection(instrument=instrument, findings=[(slide, "slide_seized", "severe")], actor=tech)
    instrument = Instrument.objects.get(pk=instrument.pk)
    job = open_job(instrument=instrument, bench=make_school_bench(school), actor=tech, at=NOW)

    def notes_by(chart: Chart | None) -> list[tuple[str, float | None]]:
        facts = Finding.objects.filter(instrument=instrument).standing().facts()
        report = playing(
            kind=whole, chart=chart, options=instrument.options, findings=facts, faults=trade.faults, roles=trade.roles
        )
        return [(note.written, note.cents) for note in report.notes]

    state = job_state(fresh(job))
    found = [(note.written, note.cents) for note in state.standing.judgement.report.notes]
    assert found == notes_by(chart_of(whole, options))
    assert found != notes_by(chart_of(whole, {}))
    assert [note.written for note in sheet_of(state, home="", today=TODAY).notes] == [name for name, _ in found]


def test_the_sheet_of_a_treble_clef_euphonium_is_in_treble_clef(school, tech):
    instrument = make_ready_instrument(school=school, kind_code="euphonium", options={"clef": "treble"})
    job = open_job(instrument=instrument, bench=make_school_bench(school), actor=tech, at=NOW)
    sheet = sheet_of(job_state(fresh(job)), home="", today=TODAY)
    assert sheet.clef == "treble"
    assert "C4" in {note.written for note in sheet.notes}
    assert "Bb2" not in {note.written for note in sheet.notes}


def test_what_was_tried_at_a_part_that_is_gone_stays_in_the_job(school, tech):
    instrument = make_instrument(school=school, kind_code="tuba", options={"valves": "4"})
    make_inspection(instrument=instrument, findings=[("fourth_valve_slide", "slide_seized", "light")], actor=tech)
    job = open_job(
        instrument=Instrument.objects.get(pk=instrument.pk), bench=make_school_bench(school), actor=tech, at=NOW
    )
    do_next(job, "still_stuck")
    change_instrument(instrument=instrument, options={"valves": "3"}, actor=tech, at=LATER)
    state = job_state(fresh(job))
    assert [finding.part for finding in state.standing.gone] == ["fourth_valve_slide"]
    assert state.left_to_do == ()
    assert len(state.attempts) == 1


def test_a_second_job_goes_on_where_the_first_one_stopped(school, tech):
    first = make_job(school=school)
    key = plan_for_job(first).next_step.key
    do_next(first, "still_stuck")
    give_up_job(job=fresh(first), because="No time", actor=tech, at=LATER)
    instrument = Instrument.objects.get(pk=first.instrument_id)
    assert key not in [step.key for step in plan_for_instrument(instrument).steps]

    second = open_job(instrument=instrument, bench=first.bench, actor=tech, at=LATER)
    state = job_state(fresh(second))
    assert [rung.state for rung in state.plan.ladders[0].rungs if rung.step_key == key] == [RungState.TRIED]
    assert state.plan.done == ()
    assert key not in [step.key for step in state.plan.steps]


def test_a_fault_found_again_after_it_was_repaired_is_tried_from_the_start(school, tech):
    first = make_job(school=school)
    key = plan_for_job(first).next_step.key
    do_next(first, "still_stuck")
    Finding.objects.filter(instrument=first.instrument_id).update(closed_at=LATER, closed_because="repaired")
    give_up_job(job=fresh(first), because="Freed at home", actor=tech, at=LATER)
    make_inspection(instrument=first.instrument, findings=[STUCK], actor=tech, at=LATER)
    second = open_job(
        instrument=Instrument.objects.get(pk=first.instrument_id), bench=first.bench, actor=tech, at=LATER
    )
    assert plan_for_job(fresh(second)).next_step.key == key
