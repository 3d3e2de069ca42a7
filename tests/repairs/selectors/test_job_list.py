from __future__ import annotations

from datetime import timedelta

from django.utils import timezone

from repairs.models import Job
from repairs.selectors.job_list import open_job_lines
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs import acknowledge_cautions, let_it_wait
from tests.factories import NOW
from tests.repairs.makers import fresh, make_job


def test_what_rests_stands_apart_until_its_wait_is_over(school, tech):
    job = make_job(school=school, actor=tech, findings=[("case", "odor_mold", "severe")])
    acknowledge_cautions(job=job, actor=tech, at=NOW)
    step = next(one for one in plan_for_job(fresh(job)).steps if one.wait_h > 0)
    clock = let_it_wait(job=job, step_key=step.key, actor=tech, at=NOW + timedelta(hours=2))
    rows = Job.objects.for_table()
    before = open_job_lines(rows, now=clock.waits_until - timedelta(minutes=1), number="1", per_page=5)
    after = open_job_lines(rows, now=clock.waits_until, number="1", per_page=5)
    assert [len(before.at_hand), len(before.resting)] == [0, 1]
    assert [len(after.at_hand), len(after.resting)] == [1, 0]
    assert after.at_hand[0].is_wait_over
    assert f"{timezone.localtime(clock.waits_until):%M}" in before.resting[0].waits


def test_pages_hold_what_they_should(school, tech):
    bench = make_job(school=school, actor=tech).bench
    for _ in range(2):
        make_job(school=school, actor=tech, bench=bench)
    lines = open_job_lines(Job.objects.for_table(), now=NOW, number="2", per_page=2)
    assert lines.count == 3
    assert len(lines.at_hand) == 1
