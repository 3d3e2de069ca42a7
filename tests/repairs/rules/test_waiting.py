"""Waiting students dealt out over the instruments that could serve them, against every order there is."""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from itertools import permutations

import pytest

from repairs.rules.open_jobs import OpenJob
from repairs.rules.waiting import Candidate, share_students
from tests.factories import TODAY
from tests.repairs.rules.halves import rank_jobs

TRUMPETS = (1, "trumpet")


def make_candidate(key: str, minutes: float, group: tuple[int, str] = TRUMPETS) -> Candidate:
    return Candidate(key=key, group=group, minutes=minutes)


def students(shares: dict) -> dict[str, int]:
    return {key: share.students for key, share in shares.items()}


def served_total(minutes: Iterable[tuple[tuple[int, str], float]], *, waiting: Mapping[tuple[int, str], int]) -> float:
    """Return the minutes that the students wait in all, the instruments done one after another in this order.

    Each instrument done serves one student of its group; who is left without an instrument waits until the last one is done.
    """
    left = dict(waiting)
    clock = total = 0.0
    for group, takes in minutes:
        clock += takes
        if left.get(group, 0) > 0:
            left[group] -= 1
            total += clock
    return total + clock * sum(left.values())


def test_two_students_make_the_two_quickest_instruments_urgent():
    instruments = [make_candidate("slow", 90), make_candidate("quick", 10), make_candidate("middle", 40)]
    shares = share_students(instruments, waiting={TRUMPETS: 2}, ready={})
    assert students(shares) == {"quick": 1, "middle": 1, "slow": 0}


def test_more_students_than_instruments_stand_behind_one_another():
    instruments = [make_candidate("a", 10), make_candidate("b", 20)]
    assert students(share_students(instruments, waiting={TRUMPETS: 5}, ready={})) == {"a": 3, "b": 2}


def test_whom_an_instrument_in_store_could_serve_does_not_wait_for_the_bench():
    shares = share_students([make_candidate("a", 10)], waiting={TRUMPETS: 3}, ready={TRUMPETS: 2})
    assert (shares["a"].students, shares["a"].waiting, shares["a"].ready) == (1, 3, 2)
    assert students(share_students([make_candidate("a", 10)], waiting={TRUMPETS: 1}, ready={TRUMPETS: 4})) == {"a": 0}


def test_another_school_or_kind_counts_for_nothing():
    instruments = [make_candidate("here", 10), make_candidate("there", 10, (2, "trumpet"))]
    shares = share_students(instruments, waiting={TRUMPETS: 1, (1, "flute"): 9}, ready={})
    assert students(shares) == {"here": 1, "there": 0}


@pytest.mark.parametrize("cases", [40, pytest.param(400, marks=pytest.mark.drill)])
def test_no_order_serves_the_waiting_sooner_in_random_cases(cases):
    """Brute force over all orders, for up to as many students as there are instruments of a kind: each instrument serves one."""
    generator = random.Random("waiting")
    for _ in range(cases):
        groups = [(1, "trumpet"), (1, "flute"), (2, "flute")]
        instruments = [
            make_candidate(str(n), 5.0 * generator.randrange(1, 30), generator.choice(groups))
            for n in range(generator.randrange(1, 7))
        ]
        waiting = {
            group: generator.randrange(0, sum(instrument.group == group for instrument in instruments) + 1)
            for group in {instrument.group for instrument in instruments}
        }
        shares = share_students(instruments, waiting=waiting, ready={})
        jobs = [OpenJob(key=h.key, name=h.key, minutes=h.minutes, students=shares[h.key].students) for h in instruments]
        group_of = {instrument.key: instrument.group for instrument in instruments}
        ordered = [(group_of[one.job.key], one.job.minutes) for one in rank_jobs(jobs, today=TODAY)]
        # Whoever is left without an instrument waits equally long in every order: nobody is left here.
        best = min(
            served_total([(instrument.group, instrument.minutes) for instrument in order], waiting=waiting)
            for order in permutations(instruments)
        )
        assert served_total(ordered, waiting=waiting) == pytest.approx(best)
