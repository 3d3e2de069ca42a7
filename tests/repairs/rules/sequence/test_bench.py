"""When pieces of work begin and end, worked by hand."""

from __future__ import annotations

import pytest

from repairs.rules.sequence import Bench, Piece, Wanted


def bench_of(*pieces: Piece, day: float = 60.0, **wanted) -> Bench:
    jobs = max(piece.job for piece in pieces) + 1
    return Bench(pieces, [Wanted(students=1.0, **wanted) for _ in range(jobs)], day)


def laid(bench: Bench, line: list[int]) -> list[tuple[float, float]]:
    return [(one.starts_at, one.ends_at) for one in bench.laid_out(line)]


def test_a_step_that_no_longer_fits_begins_the_next_morning():
    bench = bench_of(Piece(0, 40), Piece(1, 21), Piece(2, 20))
    assert laid(bench, [0, 1, 2]) == [(0, 40), (1440, 1461), (1461, 1481)]
    assert laid(bench, [0, 2, 1]) == [(0, 40), (40, 60), (1440, 1461)]


def test_what_rests_goes_on_resting_at_night():
    bench = bench_of(Piece(0, 10, rest=720), Piece(0, 5, before=(0,)))
    assert laid(bench, [0, 1]) == [(0, 10), (1440, 1445)]
    assert bench.bench_minutes(1445) == 65
    assert bench.alone == [1445]


def test_divisible_work_goes_on_over_as_many_days_as_it_takes():
    bench = bench_of(Piece(0, 50, is_divisible=True), Piece(1, 130, is_divisible=True))
    assert laid(bench, [0, 1]) == [(0, 50), (50, 2940)]
    assert (bench.day_of(2940), bench.bench_minutes(2940)) == (2, 180)


def test_a_step_longer_than_a_day_takes_days_of_its_own():
    assert laid(bench_of(Piece(0, 5), Piece(1, 90)), [0, 1]) == [(0, 5), (1440, 2910)]


def test_a_set_up_is_saved_only_when_the_same_follows_at_once_on_the_same_day():
    cork = {"method": "cork", "saved": 4.0}
    bench = bench_of(Piece(0, 10, **cork), Piece(1, 10, **cork), Piece(2, 50, **cork), Piece(3, 10, **cork, before=()))
    assert [one.saved for one in bench.laid_out([0, 1, 2, 3])] == [0, 4, 0, 4]
    rested = bench_of(Piece(0, 10, rest=5, **cork), Piece(0, 10, before=(0,), **cork))
    assert [one.saved for one in rested.laid_out([0, 1])] == [0, 0]


@pytest.mark.parametrize(("last_day", "kept"), [(0, None), (1, 1), (None, None)])
def test_a_date_that_cannot_be_kept_even_alone_makes_no_claim(last_day, kept):
    bench = bench_of(Piece(0, 10, rest=720), Piece(0, 5, before=(0,)), last_day=last_day)
    assert bench.last_days == [kept]


def test_a_job_that_still_rests_begins_when_it_is_ready():
    assert laid(bench_of(Piece(0, 10), rests=15.0), [0]) == [(15, 25)]


def test_an_end_with_the_day_is_of_that_day():
    bench = bench_of(Piece(0, 60))
    assert (bench.day_of(60), bench.bench_minutes(60), bench.bench_minutes(1450)) == (0, 60, 70)
