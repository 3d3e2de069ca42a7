"""Promises counted, with published limits for the share."""

from __future__ import annotations

import pytest

from repairs.rules.promises import Promise, promises_kept


def make_promises(*truths: float) -> list[Promise]:
    return [Promise(key=str(n), p50=10.0, p80=20.0, truth=truth) for n, truth in enumerate(truths)]


def test_truths_are_counted_under_each_promise_the_promise_itself_included():
    kept = promises_kept(make_promises(5, 10, 10.5, 20, 21))
    assert (kept.jobs, kept.under_p50, kept.under_p80) == (5, 2, 4)


def test_the_limits_are_the_exact_ones():
    """Clopper and Pearson 1934: 4 of 10 gives 0.1216 to 0.7376 at 95%."""
    kept = promises_kept(make_promises(*[5] * 4, *[15] * 6))
    assert kept.p50_limits.low == pytest.approx(0.1216, abs=5e-5)
    assert kept.p50_limits.high == pytest.approx(0.7376, abs=5e-5)
    assert kept.limits_words.startswith("12% to 74%")


def test_a_job_is_over_only_beyond_the_longer_promise():
    within, over = make_promises(20, 26)
    assert not within.is_over
    assert over.is_over
    assert over.minutes_over == 6


@pytest.mark.parametrize(
    ("truths", "words"),
    [
        ((), "no finished job to judge by yet"),
        ((5, 15, 5, 15, 25), "these promises hold, as far as so many jobs can tell"),
        ((25,) * 12, "jobs take longer than promised"),
        ((5,) * 40, "jobs take less than promised"),
        ((5,) * 32 + (25,) * 8, "jobs take less than promised"),
        ((15,) * 32 + (25,) * 8, "jobs take longer than promised"),
    ],
)
def test_the_verdict_says_no_more_than_so_many_jobs_can_tell(truths, words):
    assert promises_kept(make_promises(*truths)).verdict == words
