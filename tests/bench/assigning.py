"""Who gets which instrument: 2,000 students of ten schools at once, with ties, drawn and proven."""

from __future__ import annotations

import random
from collections.abc import Iterator

from inventory.catalog.load import catalog
from loans.rules.assigning import Keeps, Offer, Proposal, Wanted, Weights, assign
from tests.bench.figures import Figure, middle, p95, times
from tests.bench.sections import Run

STUDENTS, SCHOOLS = 2000, 10
# Players of each kind among a hundred: common practice, no source.
BAND = {
    "flute": 14, "clarinet_bb": 18, "sax_alto": 10, "sax_tenor": 5, "trumpet": 16, "horn_double": 7, "trombone": 10,
    "euphonium": 5, "tuba": 5, "snare_kit": 10,
}  # fmt: skip
LEVELS = ("first_year", "second_year", "concert")


def band(*, students: int = STUDENTS, schools: int = SCHOOLS, seed: int = 1) -> tuple[list[Wanted], list[Offer]]:
    """Draw students and nine instruments for ten of them; half the students had one last year."""
    generator = random.Random(seed)
    kinds, shares = list(BAND), list(BAND.values())
    offers = [
        Offer(
            key=key,
            pool=key % schools,
            kind=generator.choices(kinds, shares)[0],
            is_better=generator.random() < 0.3,
            condition=generator.choices([0, 1, 2], [5, 3, 2])[0],
            keeps=generator.choices([Keeps.NOTHING, Keeps.BENCH, Keeps.CLEANING], [8, 1, 1])[0],
            misses=generator.choice([{}, {}, {}, {"concert": "loses notes"}]),
        )
        for key in range(students * 9 // 10)
    ]
    homes: dict[tuple[int, str], list[int]] = {}
    for one in offers:
        homes.setdefault((one.pool, one.kind), []).append(one.key)
    wanted = []
    for number in range(students):
        pool, kind = number % schools, generator.choices(kinds, shares)[0]
        mine = homes.get((pool, kind), [])
        wanted.append(
            Wanted(
                key=f"w{number}",
                pool=pool,
                player=number,
                kind=kind,
                level=generator.choice(LEVELS),
                priority=generator.choice([1, 2, 3]),
                waited_days=generator.choice([0, 40, 200]),
                had=generator.choice(mine) if mine and generator.random() < 0.5 else None,
                had_limits=generator.random() < 0.2,
            )
        )
    return wanted, offers


def section(run: Run) -> Iterator[Figure | str]:
    weights = Weights.from_settings(catalog().settings)
    for students, schools, most_ms in ((STUDENTS, SCHOOLS, 5000), (STUDENTS, 1, 10000), (200, 1, 1000)):
        wanted, offers = band(students=students, schools=schools)
        made: list[Proposal] = []
        taken = times(
            lambda wanted=wanted, offers=offers, made=made: made.append(
                assign(wanted, offers, weights=weights, seed=1)
            ),
            runs=max(run.runs // 10, 3),
            warm=1,
        )
        note = f"{len(offers):,} instruments, {made[0].served:,} served, proven"
        name = f"{students:,} students of {schools} schools" if schools > 1 else f"{students:,} students of one school"
        yield Figure(f"assigning {name}", middle(taken), p95(taken), most_ms=most_ms, note=note)
