"""The order of jobs against Smith's rule and brute force; a day laid out by hand."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from itertools import permutations

import pytest

from repairs.rules.day import (
    batches,
    plan_bench,
    setup_minutes,
)
from repairs.rules.effort import SetUp
from repairs.rules.open_jobs import DayStep, OpenJob, open_job
from tests.repairs.rules.halves import plan_day, rank_jobs
from tests.repairs.rules.small_trade import finding, plan_of
from tests.simulation.days import draw_day, gap_of

TODAY = date(2026, 8, 3)
SET_UP = SetUp(minutes=6, share=0.4)


def make_job(key: str, minutes: float, students: float, due_on: date | None = None) -> OpenJob:
    return OpenJob(key=key, name=key, minutes=minutes, students=students, due_on=due_on)


def waiting_total(jobs: Sequence[OpenJob]) -> float:
    """Return the sum over jobs of students times the moment the job is done, in minutes, done in this order."""
    total, clock = 0.0, 0.0
    for job in jobs:
        clock += job.minutes
        total += job.students * clock
    return total


def test_most_students_per_minute_come_first():
    """Smith 1956: increasing minutes / weight. 30/1, 20/2, 60/5 give ratios 30, 10, 12."""
    ranked = rank_jobs([make_job("a", 30, 1), make_job("b", 20, 2), make_job("c", 60, 5)], today=TODAY)
    assert [one.job.key for one in ranked] == ["b", "c", "a"]
    assert [one.done_after_minutes for one in ranked] == [20, 80, 110]
    assert waiting_total([one.job for one in ranked]) == 2 * 20 + 5 * 80 + 1 * 110


@pytest.mark.parametrize("cases", [50, pytest.param(500, marks=pytest.mark.drill)])
def test_no_order_lets_students_wait_less_in_random_cases(cases):
    generator = random.Random("jobs")
    for _ in range(cases):
        jobs = [
            make_job(str(n), generator.choice([generator.uniform(1, 200), 10.0 * generator.randrange(1, 9)]), generator.randrange(0, 6))
            for n in range(generator.randrange(1, 7))
        ]  # fmt: skip
        best = min(waiting_total(order) for order in permutations(jobs))
        assert waiting_total([one.job for one in rank_jobs(jobs, today=TODAY)]) == pytest.approx(best)


def test_a_job_nobody_waits_for_comes_last():
    ranked = rank_jobs([make_job("quick", 1, 0), make_job("slow", 300, 1)], today=TODAY)
    assert [one.job.key for one in ranked] == ["slow", "quick"]


def test_a_date_that_can_be_kept_moves_a_job_forward_and_one_that_cannot_is_flagged():
    jobs = [
        make_job("crowd", 230, 20),
        make_job("tight", 300, 1, date(2026, 8, 4)),
        make_job("fine", 10, 1, date(2026, 8, 5)),
        make_job("hopeless", 500, 1, date(2026, 8, 4)),
    ]
    ranked = rank_jobs(jobs, today=TODAY, bench_minutes_per_day=240)
    assert [one.job.key for one in ranked] == ["fine", "tight", "crowd", "hopeless"]
    assert [one.is_late_risk for one in ranked] == [False, False, False, True]


def test_one_date_is_let_go_where_not_all_can_be_kept():
    """Moore 1968: of three due tomorrow, 480 minutes of bench, the longest goes; then it has no claim to be early."""
    jobs = [make_job(key, minutes, 1, date(2026, 8, 4)) for key, minutes in (("a", 200), ("b", 260), ("c", 230))]
    ranked = rank_jobs([*jobs, make_job("d", 45, 5)], today=TODAY, bench_minutes_per_day=240)
    assert [(one.job.key, one.is_late_risk) for one in ranked] == [
        ("d", False),
        ("a", False),
        ("c", False),
        ("b", True),
    ]


def test_lateness_counts_waits():
    """Ten minutes of work are done in no day that glue needs to set: only the day after can be kept."""

    def glued(due):
        steps = (make_step("1", "glue", 5, wait_h=12), make_step("2", "trim", 5, after=("1",)))
        return OpenJob("glued", "glued", 10, 1, due_on=due, steps=steps)

    (today,) = rank_jobs([glued(TODAY)], today=TODAY)
    (tomorrow,) = rank_jobs([glued(date(2026, 8, 4))], today=TODAY)
    assert (today.is_late_risk, tomorrow.is_late_risk) == (True, False)
    assert tomorrow.done_after_minutes == 245


def test_what_soaks_overnight_is_begun_in_time_for_its_date():
    soaked = make_long_job("soaked", 1, make_step("1", "oil", 5, wait_h=12), make_step("2", "pull", 5, after=("1",)))
    soaked = replace(soaked, due_on=date(2026, 8, 4))
    crowd = make_long_job("crowd", 30, make_step("1", "repad", 58))
    found = plan_bench([crowd, soaked], today=TODAY, hours=1, set_up=SET_UP)
    assert [(entry.job, entry.starts_at) for entry in found.day.entries] == [("soaked", 0)]
    assert not any(one.is_late_risk for one in found.ranked)
    assert [entry.job for entry in plan_day([crowd, soaked], hours=1, set_up=SET_UP).entries] == ["crowd"]


def test_a_long_step_does_not_begin_right_before_an_instrument_wakes_that_more_wait_for():
    hour = make_long_job("hour", 0, make_step("1", "dent", 60))
    eight = OpenJob("eight", "eight", 10, 8, steps=(make_step("1", "pull", 10),), rests_minutes=7)
    quick = make_long_job("quick", 0, make_step("1", "cork", 6))
    found = plan_day([hour, eight, quick], hours=3, set_up=SET_UP)
    assert [(entry.job, entry.starts_at) for entry in found.entries] == [("quick", 0), ("eight", 7), ("hour", 17)]


def test_a_try_that_nobody_expects_is_not_planned_after_the_job_is_done():
    steps = (
        make_step("1", "oil", 5, wait_h=0.5), replace(make_step("2", "heat", 4, after=("1",)), chance=0.3), make_step("3", "trim", 8),
    )  # fmt: skip
    found = plan_day([make_long_job("stuck", 1, *steps)], hours=3, set_up=SET_UP)
    assert [entry.step.key for entry in found.entries] == ["1", "3"]
    at_once = (steps[0], replace(make_step("2", "heat", 4), chance=0.3), steps[2])
    found = plan_day([make_long_job("stuck", 1, *at_once)], hours=3, set_up=SET_UP)
    assert [entry.step.key for entry in found.entries] == ["1", "2", "3"]


def test_the_planned_day_against_every_line_of_work():
    """No student waits 10% longer than at best and none is late that need not be; the bench says it of more days."""
    gaps = []
    for number in range(6):
        jobs, hours = draw_day(random.Random(f"planned {number}"), most_steps=2)
        gaps.append(gap_of(jobs, hours=hours))
    assert not any(gap.late for gap in gaps)
    assert max(gap.share for gap in gaps) <= 0.10


def make_step(key: str, method: str, minutes: float, wait_h: float = 0.0, after: tuple[str, ...] = ()) -> DayStep:
    return DayStep(key=key, method=method, say=method, minutes=minutes, wait_h=wait_h, after=after)


def make_long_job(key: str, students: float, *steps: DayStep) -> OpenJob:
    return OpenJob(key=key, name=key, minutes=sum(step.minutes for step in steps), students=students, steps=steps)


def test_while_one_instrument_rests_the_next_is_worked_on():
    glued = make_long_job("glued", 9, make_step("1", "glue", 20, wait_h=1), make_step("2", "trim", 10, after=("1",)))
    other = make_long_job("other", 1, make_step("1", "dent", 40))
    found = plan_day([glued, other], hours=2, set_up=SET_UP)
    assert [(one.job, one.step.key, one.starts_at) for one in found.entries] == [
        ("glued", "1", 0), ("other", "1", 20), ("glued", "2", 80),
    ]  # fmt: skip
    assert found.minutes_idle == pytest.approx(50)
    assert found.finished == ("other", "glued")


def test_a_step_that_would_run_past_the_end_is_not_begun():
    found = plan_day([make_long_job("long", 1, make_step("1", "repad", 90))], hours=1, set_up=SET_UP)
    assert found.entries == ()


def test_a_job_that_rests_overnight_says_so():
    soaked = make_long_job("soaked", 1, make_step("1", "oil", 5, wait_h=12), make_step("2", "pull", 5, after=("1",)))
    found = plan_day([soaked], hours=3, set_up=SET_UP)
    assert (found.overnight, found.finished) == (("soaked",), ())


def test_a_job_with_work_that_only_the_day_was_too_short_for_does_not_rest_overnight():
    steps = (make_step("1", "oil", 5, wait_h=12), make_step("2", "pull", 5, after=("1",)), make_step("3", "repad", 90))
    assert plan_day([make_long_job("soaked", 1, *steps)], hours=1, set_up=SET_UP).overnight == ()


def test_the_same_work_on_two_instruments_is_set_up_once():
    jobs = [make_long_job(key, 1, make_step("1", "cork", 10)) for key in "ab"]
    found = plan_day(jobs, hours=1, set_up=SET_UP)
    assert found.minutes_saved == pytest.approx(setup_minutes(make_step("1", "cork", 10), set_up=SET_UP))
    assert found.minutes_used == pytest.approx(20 - found.minutes_saved)
    assert found.entries[1].is_set_up


def test_many_waiting_students_are_not_kept_waiting_for_a_saved_set_up():
    crowd = make_long_job("crowd", 10, make_step("1", "cork", 5), make_step("2", "oil", 30, after=("1",)))
    one = make_long_job("one", 1, make_step("1", "cork", 40))
    found = plan_day([crowd, one], hours=3, set_up=SET_UP)
    assert [(entry.job, entry.step.key) for entry in found.entries] == [("crowd", "1"), ("crowd", "2"), ("one", "1")]


def test_batches_name_what_is_ready_on_several_instruments_and_the_minutes_saved():
    ready = [make_long_job(key, 1, make_step("1", "water_key_cork", 4)) for key in "abc"]
    later = make_long_job("d", 1, make_step("1", "bath", 40), make_step("2", "water_key_cork", 4, after=("1",)))
    found = batches([*ready, later], set_up=SET_UP)
    assert [(one.method, one.jobs) for one in found] == [("water_key_cork", ("a", "b", "c"))]
    assert found[0].minutes.saved == pytest.approx(2 * 0.4 * 4)


def test_no_two_stretches_of_work_overlap_and_no_step_begins_before_its_wait_is_over():
    generator = random.Random("day")
    jobs = [
        make_long_job(
            str(n),
            generator.randrange(0, 4),
            *(
                make_step(str(k), generator.choice(["oil", "cork", "bath", "dent"]), generator.uniform(2, 30),
                          wait_h=generator.choice([0, 0, 0.5, 12]), after=(str(k - 1),) if k else ())
                for k in range(generator.randrange(1, 6))
            ),
        )
        for n in range(40)
    ]  # fmt: skip
    found = plan_day(jobs, hours=8, set_up=SET_UP)
    rested: dict[tuple[str, int], float] = {}
    clock = 0.0
    assert len(found.entries) > 10
    for entry in found.entries:
        assert entry.starts_at >= clock - 1e-9
        before = int(entry.step.key) - 1
        assert before < 0 or entry.starts_at >= rested[entry.job, before] - 1e-9
        rested[entry.job, int(entry.step.key)] = entry.rests_until
        clock = entry.ends_at
    assert clock <= 480


def test_five_hundred_jobs_fill_a_week():
    generator = random.Random("many")
    jobs = [
        make_long_job(
            str(n),
            generator.randrange(0, 4),
            *(make_step(str(k), f"m{generator.randrange(30)}", generator.uniform(2, 10), wait_h=generator.choice([0, 1]),
                        after=(str(k - 1),) if k else ()) for k in range(8)),
        )
        for n in range(500)
    ]  # fmt: skip
    found = plan_day(jobs, hours=40, set_up=SET_UP)
    assert len(rank_jobs(jobs, today=TODAY)) == 500
    assert 2000 < found.minutes_used <= 2400


def test_a_plan_becomes_a_job_of_the_day():
    plan = plan_of(finding("brace", "loose"), finding("main_slide", "stuck"))
    job = open_job(key="T14", name="Trumpet 14", plan=plan, students=2)
    assert job.minutes == pytest.approx(plan.taken.attended_minutes.mean, rel=0.001)
    assert [step.key for step in job.steps if step.chance == 1] == [step.key for step in plan.steps]
    found = plan_day([job], hours=4, set_up=SET_UP)
    order = [entry.step.key for entry in found.entries]
    assert order.index("bath") < order.index("solder_brace:brace")
    assert (found.finished, found.overnight) == ((), ("T14",))  # oil overnight comes before the slide is likely free
    assert plan_day([job], hours=40, set_up=SET_UP).finished == ("T14",)


def test_a_resting_job_waits_its_time_and_the_next_goes_first():
    steps = (DayStep(key="a1", method="look", say="Look", minutes=5.0),)
    resting = OpenJob(key="a", name="a", minutes=5, students=9, steps=steps, rests_minutes=40.0)
    other = OpenJob(key="b", name="b", minutes=20, students=0, steps=(DayStep("b1", "file", "File", 20.0),))
    plan = plan_day([resting, other], hours=2.0, set_up=SET_UP)
    assert [(entry.job, entry.starts_at) for entry in plan.entries] == [("b", 0.0), ("a", 40.0)]
    assert plan_day([resting], hours=0.5, set_up=SET_UP).overnight == ("a",)


def test_a_play_test_shares_no_set_up_and_makes_no_batch():
    steps = [(DayStep(f"{key}1", "play_test", "Play it", 12.0),) for key in "ab"]
    jobs = [OpenJob(key=key, name=key, minutes=12, students=1, steps=own) for key, own in zip("ab", steps, strict=True)]
    assert setup_minutes(steps[0][0], set_up=SET_UP) == 0.0
    assert batches(jobs, set_up=SET_UP) == ()
    plan = plan_day(jobs, hours=1.0, set_up=SET_UP)
    assert (plan.minutes_used, plan.minutes_saved) == (24.0, 0.0)
    assert not any(entry.is_set_up for entry in plan.entries)


@pytest.mark.parametrize(("minutes", "is_late"), [(479, False), (481, True)])
def test_late_is_what_ends_after_the_bench_time_of_its_due_day(minutes, is_late):
    """Due tomorrow at 240 bench minutes a day: today's 240 and tomorrow's are still in time."""
    (ranked,) = rank_jobs([make_job("job", minutes, 1, date(2026, 8, 4))], today=TODAY, bench_minutes_per_day=240)
    assert ranked.is_late_risk is is_late


def day_of_three(front: float) -> list[tuple[str, float]]:
    """Return who is worked on when: one cork, then a dent for so many students or the next cork for 2."""
    jobs = [
        make_long_job("cork one", 9, make_step("1", "cork", 10)),
        make_long_job("dent", front, make_step("1", "dent", 10)),
        make_long_job("cork two", 2, make_step("1", "cork", 10)),
    ]
    found = plan_day(jobs, hours=2, set_up=SetUp(minutes=4, share=0.4))
    return [(entry.job, entry.starts_at) for entry in found.entries]


def test_the_same_work_goes_on_while_it_saves_more_than_those_in_front_lose():
    """Laid out already, the second cork takes 6 of its 10 minutes: 6 for each student in front against 4 for all.

    4 in front lose 24 and 4 + 2 gain 24: even, so it goes on. 5 lose 30 and 5 + 2 gain 28: the dent comes first.
    """
    assert day_of_three(4) == [("cork one", 0), ("cork two", 10), ("dent", 16)]
    assert day_of_three(5) == [("cork one", 0), ("dent", 10), ("cork two", 20)]


def test_only_those_who_are_awake_and_in_front_hold_up_the_same_work():
    asleep = OpenJob("a", "a", 10, 50, steps=(make_step("1", "dent", 10),), rests_minutes=60)
    corks = [make_long_job(key, 1, make_step("1", "cork", 10)) for key in ("b", "c")]
    found = plan_day([asleep, *corks], hours=2, set_up=SET_UP)
    assert [(entry.job, entry.starts_at, entry.is_set_up) for entry in found.entries] == [
        ("b", 0, False), ("c", 10, True), ("a", 60, False),
    ]  # fmt: skip


def test_a_step_that_ends_with_the_day_is_done():
    found = plan_day([make_long_job("long", 1, make_step("1", "repad", 60))], hours=1, set_up=SET_UP)
    assert (found.finished, found.minutes_used, found.minutes_idle) == (("long",), 60, 0)
    pair = [make_long_job(key, 1, make_step("1", "cork", 20)) for key in "ab"]
    assert len(plan_day(pair, hours=34 / 60, set_up=SET_UP).entries) == 2  # 20, and 20 less 6 of set-up
    assert len(plan_day(pair, hours=33 / 60, set_up=SET_UP).entries) == 1


def test_setting_up_is_so_many_minutes_and_at_most_a_share():
    assert setup_minutes(make_step("1", "cork", 10), set_up=SET_UP) == 4
    assert setup_minutes(make_step("1", "cork", 40), set_up=SET_UP) == 6


def test_two_pieces_of_the_same_work_on_one_instrument_are_no_batch():
    twice = make_long_job("a", 1, make_step("1", "cork", 5), make_step("2", "cork", 10))
    other = make_long_job("b", 1, make_step("1", "cork", 20))
    assert batches([twice], set_up=SET_UP) == ()
    (found,) = batches([twice, other], set_up=SET_UP)
    assert (found.jobs, found.minutes.apart, found.minutes.saved) == (("a", "b"), 35, pytest.approx(2 + 4))
