"""The bench's day from real jobs, students and clocks."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.template.loader import render_to_string

from desk.pages.bench_day import bench_day, is_moment, share_words, shown_once, why_words
from desk.selectors.bench_day import LOOK_MINUTES, planned_day
from repairs.models import StepClock
from repairs.rules.day import RankedJob
from repairs.rules.open_jobs import OpenJob
from repairs.rules.waiting import Share
from repairs.selectors.planning import plan_for_job
from tests.factories import NOW, TODAY, make_ready_instrument, make_school, make_student
from tests.loans.makers import make_loan
from tests.repairs.makers import LEAKING_CORK, STUCK, fresh, make_job, make_school_bench


def day_of(user, **overrides) -> dict:
    fields = {"bench": None, "starts_at": NOW + timedelta(days=1), "hours": 4.0} | overrides
    return bench_day(planned_day(user, **fields))


def order(day: dict) -> list[int]:
    return [row["job"].pk for row in day["rows"]]


def test_a_waiting_student_brings_an_instrument_to_the_front(school, tech):
    cork = make_job(school=school, findings=[LEAKING_CORK])
    tuba = make_job(
        school=school, kind_code="tuba", findings=[("main_tuning_slide", "slide_seized", "severe")], bench=cork.bench
    )
    assert order(day_of(tech)) == [cork.pk, tuba.pk]
    make_student(school=school, wants_kind="tuba")
    day = day_of(tech)
    assert order(day) == [tuba.pk, cork.pk]
    assert (day["rows"][0]["students"], day["students"]) == (1, 1)
    assert "1 student waiting" in day["rows"][0]["why"]
    assert "nobody is waiting" in day["rows"][0]["before_next"]


@pytest.mark.parametrize(("minutes", "students", "why"), [
    (30.0, 2, "2 students waiting, 30 min: 4.0 for each bench hour"),
    (90.0, 1, "1 student waiting, 90 min: 0.7 for each bench hour"),
    (481.0, 1, "1 student waiting, 481 min: 0.1 for each bench hour; at risk: done only after 8.0 bench hours"),
    (0.0, 3, "3 students waiting, no work left"),
    (20.4, 0, "nobody is waiting for it; 20 min, shortest first"),
])  # fmt: skip
def test_why_this_first_is_answered(minutes, students, why):
    job = OpenJob(key="1", name="T14", minutes=minutes, students=students)
    assert why_words(RankedJob(job, minutes, is_late_risk=minutes > 480)) == why


def test_a_due_date_is_part_of_the_reason():
    job = OpenJob(key="1", name="T14", minutes=30, students=1, due_on=date(2026, 8, 4))
    assert why_words(RankedJob(job, 30, is_late_risk=False)).endswith("for each bench hour; due Aug 4")


def test_who_has_an_instrument_has_left_or_is_elsewhere_waits_for_nothing(school, tech):
    make_job(school=school, findings=[LEAKING_CORK])
    make_student(school=school, wants_kind="trumpet", left_on=TODAY)
    make_student(school=school, wants_kind="")
    make_student(school=make_school(), wants_kind="trumpet")
    loan = make_loan(instrument=make_ready_instrument(school=school, kind_code="flute"))
    type(loan.student).objects.filter(pk=loan.student_id).update(wants_kind="trumpet")
    assert day_of(tech)["students"] == 0


def test_an_instrument_in_store_serves_before_the_bench_does(school, tech):
    make_job(school=school, findings=[LEAKING_CORK])
    make_student(school=school, wants_kind="trumpet")
    assert day_of(tech)["students"] == 1
    make_ready_instrument(school=school)
    day = day_of(tech)
    assert day["students"] == 0
    assert "1 could take one from store today" in day["rows"][0]["share"]


def test_a_soaking_instrument_rests_and_another_is_worked_on_meanwhile(school, tech):
    soaking = make_job(school=school, findings=[STUCK])
    other = make_job(school=school, findings=[LEAKING_CORK], bench=soaking.bench)
    start = NOW + timedelta(days=1)
    step = plan_for_job(fresh(soaking)).next_step
    StepClock.objects.create(
        job=soaking, step_key=step.key, started_at=start, waiting_since=start, actor=tech,
        waits_until=start + timedelta(minutes=90),
    )  # fmt: skip
    day = day_of(tech)
    first = next(line for line in day["stretches"] if line["job"] == soaking)
    assert first["starts_at"] >= start + timedelta(minutes=90)
    assert first["say"].startswith("Check the result")
    assert first["ends_at"] - first["starts_at"] == timedelta(minutes=min(LOOK_MINUTES, step.minutes.likely))
    assert day["stretches"][0]["job"] == other
    assert next(row for row in day["rows"] if row["job"] == soaking)["rests"]


def test_what_goes_on_while_another_sits_is_said_at_the_first_line_alone():
    lines = [{"is_meanwhile": value} for value in (False, True, True, False, True)]
    said = [line["is_meanwhile"] for line in shown_once(lines, "is_meanwhile")]
    assert said == [False, True, False, False, True]


def test_an_instrument_that_rests_all_day_is_not_touched_and_is_said_to_rest(school, tech):
    job = make_job(school=school, findings=[STUCK])
    step = plan_for_job(fresh(job)).next_step
    start = NOW + timedelta(days=1)
    StepClock.objects.create(
        job=job, step_key=step.key, started_at=start, waiting_since=start, actor=tech,
        waits_until=start + timedelta(hours=20),
    )  # fmt: skip
    day = day_of(tech)
    assert day["stretches"] == ()
    assert day["overnight"] == (job,)


def test_the_same_work_on_several_instruments_is_done_in_a_row(school, tech):
    first = make_job(school=school, findings=[LEAKING_CORK])
    jobs = [first, *(make_job(school=school, findings=[LEAKING_CORK], bench=first.bench) for _ in range(2))]
    day = day_of(tech)
    batch = next(one for one in day["batches"] if "cork" in one["say"])
    assert set(batch["jobs"]) == set(jobs)
    assert day["saved"]
    shared = [line for line in day["stretches"] if line["is_shared"]]
    assert {line["say"] for line in shared} != set()
    assert not any(line["say"] == "Play-test it" for line in shared)


def test_stretches_follow_one_another_and_end_within_the_hours(school, tech):
    for findings in ([STUCK], [LEAKING_CORK], [STUCK, LEAKING_CORK]):
        make_job(school=school, findings=findings, bench=None)
    day = day_of(tech, hours=1.0)
    ends = [day["starts_at"], *(line["ends_at"] for line in day["stretches"])]
    assert all(line["starts_at"] >= before for line, before in zip(day["stretches"], ends, strict=False))
    assert ends[-1] <= day["starts_at"] + timedelta(hours=1)


def test_a_date_in_danger_and_a_date_passed_are_flagged(school, tech):
    passed = make_job(school=school, due_on=TODAY)
    make_job(school=school, findings=[LEAKING_CORK], due_on=TODAY + timedelta(days=60), bench=passed.bench)
    day = day_of(tech)
    assert [row["job"] for row in day["late"]] == [passed]
    assert day["late"][0]["is_late"]


def test_one_bench_shows_its_own_jobs_and_students_are_still_dealt_over_both(school, tech):
    quick = make_job(school=school, findings=[LEAKING_CORK])
    slow = make_job(school=school, findings=[STUCK], bench=make_school_bench(school))
    make_student(school=school, wants_kind="trumpet")
    assert order(day_of(tech, bench=slow.bench)) == [slow.pk]
    assert sum(day_of(tech, bench=job.bench)["students"] for job in (quick, slow)) == 1


def test_another_school_s_jobs_are_not_shown(school, stranger):
    make_job(school=school)
    assert day_of(stranger)["rows"] == ()


def test_the_share_says_where_it_comes_from():
    assert (
        share_words(Share(students=0, waiting=0, ready=0), kind="Tuba")
        == "No student at its school is waiting for: Tuba."
    )
    words = share_words(Share(students=1, waiting=3, ready=2), kind="Tuba")
    assert "3 students at its school are waiting for: Tuba." in words
    assert "2 could take one from store today" in words
    assert words.endswith("Counted for this one: 1.")
    assert "fewer instruments than students" in share_words(Share(students=2, waiting=4, ready=0), kind="Tuba")


@pytest.mark.parametrize(
    ("begins_s", "takes_s", "expected"),
    [(0, 0, True), (5, 50, True), (30, 40, False), (0, 60, False), (0, 3600, False)],
)
def test_what_ends_in_the_minute_it_began_has_one_time(begins_s, takes_s, expected):
    begins = NOW.replace(second=begins_s)
    assert is_moment(begins, begins + timedelta(seconds=takes_s)) is expected


def test_of_much_to_do_together_the_first_is_shown_and_all_when_asked(school, tech, monkeypatch):
    monkeypatch.setattr("desk.pages.bench_day.SHOWN_BATCHES", 2)
    first = make_job(school=school, findings=[LEAKING_CORK])
    make_job(school=school, findings=[LEAKING_CORK], bench=first.bench)
    day = planned_day(tech, bench=None, starts_at=NOW, hours=4.0)
    day = replace(day, batches=(*day.batches, *day.batches, *day.batches)[:3])
    text = render_to_string("desk/bench_day_together.html", {"day": bench_day(day), "query": "hours=4"})
    assert text.count('class="what"') == 2
    assert 'href="?hours=4&amp;all=1#together"' in text
    assert "Show 1 more" in text
    whole = render_to_string("desk/bench_day_together.html", {"day": bench_day(day, is_whole=True), "query": ""})
    assert whole.count('class="what"') == 3
    assert "all=1" not in whole
