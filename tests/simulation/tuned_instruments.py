"""Play tests of sound instruments, drawn at random, to measure how often a sound note is called out and a moved one found.

Fixed in writing before it was measured; assumed, no source: each note of an instrument lies a lasting distance off its
lengths, normal, SD 20 cents at partials 2, 6 and 8 and 8 elsewhere; where a slide corrects, a player has a lasting habit
within its band, uniform; each test adds the player's scatter, normal, SD 4. Others of its model are independent of it.
For drift: 3 to 8 tests on random days of two years, each as a whole off by SD 4 (or 6) for the day and the player, or by
1.4, which is the scatter of single notes over eight; one that drifts goes 25 cents flat from its first test to its last.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.rules.intonation import Intonation, intonation
from inventory.rules.pitch import drift
from inventory.rules.playing.reports import NoteResult

MOVED, FLAT_WHOLE, DRIFTED = 25.0, 35.0, 25.0


@dataclass(frozen=True, slots=True)
class Instrument:
    notes: Sequence[NoteResult]
    lasting: dict[str, float]  # where each note lies but for the player's scatter

    def test(self, generator: random.Random, *, scatter: float) -> dict[str, float]:
        return {name: cents + generator.gauss(0, scatter) for name, cents in self.lasting.items()}


def draw_instrument(notes: Sequence[NoteResult], *, generator: random.Random) -> Instrument:
    lasting = {}
    for note in notes:
        if note.cents_low is not None and note.cents_high is not None:
            own = generator.gauss(0, 20.0 if note.partial in {2, 6, 8} else 8.0)
            lasting[note.written] = own + generator.uniform(note.cents_low, note.cents_high)
    return Instrument(notes, lasting)


@dataclass(frozen=True, slots=True)
class Shares:
    """Of many drawn instruments: those called out although sound, moved notes found, whole instruments said to be flat."""

    false: float
    found: float
    whole: float


def shares(
    reports: Sequence[Sequence[NoteResult]],
    *,
    count: int,
    earlier: int,
    siblings: int = 0,
    scatter: float = 4.0,
    seed: int = 1,
) -> Shares:
    """Try ``count`` sound instruments with so many earlier tests, or tests of others of the model."""
    generator = random.Random(seed)
    false = found = whole = 0
    for number in range(count):
        notes = reports[number % len(reports)]
        instrument = draw_instrument(notes, generator=generator)
        past = [instrument.test(generator, scatter=scatter) for _ in range(earlier)]
        others = [
            draw_instrument(notes, generator=generator).test(generator, scatter=scatter) for _ in range(siblings)
        ]  # fmt: skip

        def judged(now: dict[str, float]) -> Intonation:
            return intonation(now, notes=notes, earlier=past, siblings=others)  # noqa: B023 - called in this round

        now = instrument.test(generator, scatter=scatter)
        told = judged(now)
        false += bool(told.surprises) or told.is_off_throughout
        name = generator.choice(list(now))
        moved = now | {name: now[name] + generator.choice((-MOVED, MOVED))}
        found += name in {one.written for one in judged(moved).surprises}
        flat = judged({name: cents - FLAT_WHOLE for name, cents in now.items()})
        whole += flat.is_off_throughout
    return Shares(false / count, found / count, whole / count)


def drift_shares(*, count: int, scatter: float, tests: int | None = None, seed: int = 1) -> tuple[float, float]:
    """Return how many of the instruments that hold their pitch are flagged, and how many of those that go 25 cents flat."""
    generator = random.Random(seed)
    flagged = [0, 0]
    for _ in range(count):
        days = sorted(generator.sample(range(730), tests or generator.randint(3, 8)))
        wobble = [generator.gauss(0, scatter) for _ in days]
        for moves in (0, 1):
            dated = [
                (date(2024, 8, 1) + timedelta(day), cents - moves * DRIFTED * (day - days[0]) / (days[-1] - days[0]))
                for day, cents in zip(days, wobble, strict=True)
            ]
            found = drift(tests=dated)
            flagged[moves] += found is not None and found.is_flagged
    return flagged[0] / count, flagged[1] / count
