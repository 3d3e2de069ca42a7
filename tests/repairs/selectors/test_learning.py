"""What the attempts teach."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from repairs.models import Attempt, Job
from repairs.rules.effort import Range
from repairs.selectors.learning import learned_odds, learned_times
from repairs.selectors.planning import plan_for_job
from repairs.selectors.promises import _Known
from repairs.services.jobs import ask_again, came_free_after_all, do_step, start_step
from tests.factories import NOW, new_nonce
from tests.repairs.makers import LATER, do_next, make_job, next_step


def test_tries_are_counted_for_their_rung(school, tech):
    bench = make_job(school=school, actor=tech).bench
    for outcome in ("freed", "still_stuck", "freed"):
        do_next(make_job(school=school, actor=tech, bench=bench), outcome)
    attempt = Attempt.objects.first()
    tally = next(iter(learned_odds().by_rung.values()))
    assert (tally.freed, tally.tries) == (2, 3)
    assert attempt.rung in {rung for _, rung in learned_odds().by_rung}


def test_a_way_given_up_that_freed_the_part_after_all_counts_once_as_freed(school, tech):
    job = make_job(school=school, actor=tech)
    key = next_step(job).key
    do_next(job, "still_stuck")
    came_free_after_all(job=job, step_key=key, actor=tech, at=LATER)
    assert [(one.freed, one.tries) for one in learned_odds().by_rung.values()] == [(1, 1)]
    assert learned_times().by_method == {}


def test_a_part_freed_by_one_quick_tap_is_one_try_that_freed_it(school, tech):
    job = make_job(school=school, actor=tech)
    key = next_step(job).key
    start_step(job=job, step_key=key, actor=tech, at=LATER)
    end = LATER + timedelta(seconds=2)
    done = do_step(job=job, step_key=key, outcome="freed", actor=tech, at=end, nonce=new_nonce())
    assert done.attempt.minutes is None
    assert [(one.freed, one.tries) for one in learned_odds().by_rung.values()] == [(1, 1)]
    Attempt.objects.update(minutes=0)
    assert [(one.freed, one.tries) for one in learned_odds().by_rung.values()] == [(1, 1)]


@pytest.mark.parametrize("ends", [["freed"], ["still_stuck", "freed"], ["still_stuck", "after all"]])
def test_every_real_try_of_one_job_counts(ends, school, tech):
    """Failed, failed and freed are two failures; the last of two was none if it freed the part after all."""
    job = make_job(school=school, actor=tech)
    key = next_step(job).key
    do_next(job, "still_stuck")
    for end in ends:
        if end == "after all":
            came_free_after_all(job=job, step_key=key, actor=tech, at=LATER)
        else:
            ask_again(job=job, step_key=key, actor=tech, at=LATER)
            do_step(job=job, step_key=key, outcome=end, actor=tech, at=LATER, nonce=new_nonce())
    tries = 1 + len(ends) - ("after all" in ends)
    assert [(one.freed, one.tries) for one in learned_odds().by_rung.values()] == [(1, tries)]
    since = Job.objects.get().opened_at
    seen = [one.count * (1 if one.is_freed else 10) for one in _Known(since=since, until=LATER).tries_until(LATER)]
    assert sum(seen) == 1 + 10 * (tries - 1)


def test_a_rung_left_out_teaches_nothing(school, tech):
    do_next(make_job(school=school, actor=tech), "skipped")
    assert learned_odds().by_rung == {}


def test_minutes_that_run_over_lengthen_the_next_estimate(school, tech):
    bench = make_job(school=school, actor=tech).bench
    for _ in range(8):
        do_next(make_job(school=school, actor=tech, bench=bench), "freed", minutes=Decimal(30))
    attempt = Attempt.objects.first()
    times = learned_times()
    name = next(name for name in times.by_method if name.endswith(f".{attempt.rung}"))
    assert times.by_method[name].records == 8
    assert times.learned(name, Range(low=1.0, likely=3.0, high=8.0)).likely > 2 * 3.0


def test_the_same_work_once_more_in_a_job_is_held_against_its_minutes_without_set_up(school, tech):
    """Rawhide taps at two caps: 4 minutes, then 2.4, are just as planned."""
    caps = [("bottom_valve_cap", "cap_stuck", "severe", place) for place in "12"]
    job = make_job(school=school, actor=tech, findings=caps)
    steps = plan_for_job(job).steps[:2]
    assert [step.minutes.likely for step in steps] == pytest.approx([4, 2.4])
    for step, minutes, at in zip(steps, ("4", "2.4"), (NOW + timedelta(hours=2), LATER), strict=True):
        about = {"job": job, "step_key": step.key, "actor": tech, "nonce": new_nonce()}
        do_step(outcome="still_stuck", at=at, minutes=Decimal(minutes), **about)
    assert learned_times().by_method["valve_cap.taps"].log_mean == pytest.approx(0)
    seen = [record for _, record in _Known(since=job.opened_at, until=LATER).times]
    assert [record.likely for record in seen] == pytest.approx([4, 2.4])


def test_a_tubas_bath_in_its_own_minutes_teaches_nothing_of_a_trumpets(school, tech):
    scale = [("leadpipe", "lime_scale", "moderate")]
    job = make_job(school=school, actor=tech, kind_code="tuba", findings=scale)
    bath = plan_for_job(job).step("soap_bath_brass")
    assert bath is not None
    while next_step(job).key != bath.key:
        do_next(job, "done")
    do_next(job, "done", minutes=Decimal(str(bath.minutes.likely)))
    assert learned_times().by_method["soap_bath_brass"].log_mean == 0


def test_learning_takes_one_query_each(school, tech):
    bench = make_job(school=school, actor=tech).bench
    for _ in range(3):
        do_next(make_job(school=school, actor=tech, bench=bench), "freed", minutes=Decimal(3))
    with CaptureQueriesContext(connection) as caught:
        learned_odds()
        learned_times()
    assert len(caught) == 2
