"""The line of work against every other line of small benches."""

from __future__ import annotations

import random
from itertools import permutations

from repairs.rules.sequence import Bench, Piece, Wanted, arrange


def drawn(generator: random.Random) -> Bench:
    """Three jobs of two steps: some rest, some share a set-up, some have a date."""
    pieces: list[Piece] = []
    for job in range(3):
        for step in range(2):
            pieces.append(
                Piece(
                    job=job, minutes=generator.choice([5.0, 12.0, 40.0]), rest=generator.choice([0.0, 20.0, 720.0]),
                    before=(len(pieces) - 1,) if step else (), method=generator.choice("ab"), saved=2.0,
                )
            )  # fmt: skip
    wanted = [
        Wanted(
            students=generator.randrange(4), rests=generator.choice([0.0, 7.0]), last_day=generator.choice([None, 0, 1])
        )
        for _ in range(3)
    ]
    return Bench(pieces, wanted, 60.0)


def worst_of(bench: Bench, line) -> tuple[int, float]:
    ends = bench.ends(line)
    waiting = sum(one.students * bench.bench_minutes(end) for one, end in zip(bench.wanted, ends, strict=True))
    return len(bench.late(ends)), waiting


def test_no_line_of_all_is_better_by_a_hundredth():
    generator = random.Random("lines")
    for _ in range(12):
        bench = drawn(generator)
        lines = [
            line
            for line in permutations(range(6))
            if all(line.index(2 * job) < line.index(2 * job + 1) for job in range(3))
        ]
        late, waiting = min(worst_of(bench, line) for line in lines)
        found_late, found_waiting = worst_of(bench, arrange(bench))
        assert found_late == late
        assert waiting <= found_waiting + 1e-6 <= waiting * 1.01 + 1e-3


def test_the_same_work_always_gives_the_same_order():
    bench = drawn(random.Random(5))
    assert arrange(bench) == arrange(drawn(random.Random(5)))
    assert sorted(arrange(bench)) == list(range(6))


def test_a_date_is_kept_even_without_time_to_mend_the_line():
    """As of hundreds of jobs: the order alone puts what is due today before what more students wait for."""
    pieces = [Piece(0, 50), Piece(1, 30), Piece(2, 5)]
    bench = Bench(pieces, [Wanted(9), Wanted(1, last_day=0), Wanted(0)], 60.0)
    assert arrange(bench, placings=0) == [1, 2, 0]


def test_no_work_needs_no_order():
    assert arrange(Bench([], [], 60.0)) == []
