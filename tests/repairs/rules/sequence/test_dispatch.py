"""The first line of work, built step by step."""

from __future__ import annotations

from repairs.rules.sequence import Bench, Piece, Wanted
from repairs.rules.sequence.dispatch import Dispatch


def line_of(pieces, students, *, day=240.0, rests=None):
    rests = rests or [0.0] * len(students)
    wanted = [Wanted(students=count, rests=rest) for count, rest in zip(students, rests, strict=True)]
    return Dispatch(Bench(pieces, wanted, day), list(range(len(students)))).line()


def test_the_first_in_rank_goes_on_and_the_next_while_it_rests():
    pieces = [Piece(0, 10, rest=30), Piece(0, 5, before=(0,)), Piece(1, 20), Piece(2, 9)]
    assert line_of(pieces, [1, 1, 1]) == [0, 2, 3, 1]


def test_what_no_longer_fits_lets_what_fits_go_first():
    pieces = [Piece(0, 40), Piece(1, 30), Piece(2, 20)]
    assert line_of(pieces, [1, 1, 1], day=60.0) == [0, 2, 1]


def test_work_that_may_be_cut_begins_no_sooner_once_the_day_is_full():
    pieces = [Piece(0, 60), Piece(1, 30), Piece(2, 30, is_divisible=True)]
    assert line_of(pieces, [1, 1, 1], day=60.0) == [0, 1, 2]


def test_the_bench_stands_before_many_wake_and_does_not_for_few():
    pieces = [Piece(0, 10), Piece(1, 60)]
    assert line_of(pieces, [8, 1], rests=[7, 0]) == [0, 1]
    assert line_of(pieces, [1, 8], rests=[7, 0]) == [1, 0]


def test_the_same_work_follows_where_it_saves_more_than_those_in_front_lose():
    """6 minutes for each of those in front against 4 for all that are awake."""
    cork = {"method": "cork", "saved": 4.0}
    pieces = [Piece(0, 10, **cork), Piece(1, 10), Piece(2, 10, **cork)]
    assert line_of(pieces, [9, 3.9, 2]) == [0, 2, 1]
    assert line_of(pieces, [9, 5, 2]) == [0, 1, 2]


def test_every_piece_is_done_once():
    pieces = [Piece(job, 5 + job, rest=job % 3 * 30.0) for job in range(30)]
    assert sorted(line_of(pieces, [1.0] * 30, day=30.0)) == list(range(30))
