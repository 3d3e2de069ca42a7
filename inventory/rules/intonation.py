"""What a play test's cents say: first the whole instrument, then single notes against it.

A note is judged against the earlier tests of the same instrument, without those against others of its model, without
those against what its lengths predict. Cents are positive when sharp, at ROOM_CELSIUS. A sound instrument is taken to
be made so (shop defaults, no source): each note lies a lasting LASTING cents off what its lengths predict, LASTING_WIDE
at partials 2, 6 and 8, and a player hits it within SCATTER; all are standard deviations. Real bores differ from theory by
tens of cents at those partials. Limits are set so that of a hundred sound instruments no more than 100 * FALSE_ALARMS
are called out for any note (Bonferroni over the notes judged).
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from inventory.rules.pitch import midi_of
from inventory.rules.playing.partials import natural_cents
from inventory.rules.playing.reports import NoteResult

LASTING, LASTING_WIDE, SCATTER = 8.0, 20.0, 4.0
WIDE_PARTIALS = frozenset({2, 6, 8})
FALSE_ALARMS = 0.04
LEAST_NOTES = 5  # before a note is singled out
LEAST_THROUGHOUT = 3  # before the whole instrument is called sharp or flat
THROUGHOUT = 20.0  # cents off A = 440 that a player would not lip; shop default
LEAST_SIBLINGS = 3  # of two, one odd neighbor would be half of what a note is held against
OF_MEDIAN = math.pi / 2  # how much less a median of n values tells than their mean
EXPLAINED = 15.0  # as near as this to what a finding predicts, the finding explains it; shop default

Measured = Mapping[str, float]  # written note -> cents


class Against(StrEnum):
    """What a note was compared with."""

    EARLIER = "earlier"
    SIBLINGS = "siblings"
    LENGTHS = "lengths"


@dataclass(frozen=True, slots=True)
class Surprise:
    """A note further off than the findings account for."""

    written: str
    measured: float  # cents, less those of the whole instrument
    predicted: float  # the nearest that was expected there
    excess: float  # measured less predicted
    against: Against


@dataclass(frozen=True, slots=True)
class Intonation:
    """What one test says."""

    general: float | None  # cents of the whole instrument; None with too few notes
    is_off_throughout: bool
    surprises: tuple[Surprise, ...]  # worst first


def intonation(
    measured: Measured,
    *,
    notes: Iterable[NoteResult],
    earlier: Sequence[Measured] = (),
    siblings: Sequence[Measured] = (),
) -> Intonation:
    """Return where the whole instrument stands, and the notes that stand out from it.

    ``earlier`` are tests of the same instrument, ``siblings`` one test each of others of its model. Notes that nothing is
    predicted for are left out.
    """
    expected = {note.written: note for note in notes if note.cents is not None and note.written in measured}
    if len(expected) < LEAST_THROUGHOUT:
        return Intonation(general=None, is_off_throughout=False, surprises=())
    off = [(measured[name] - sum(_band(note)) / 2, 1 / _variance(note)) for name, note in expected.items()]
    general, error = _weighted_median(off), OF_MEDIAN / sum(weight for _, weight in off)
    limit, mean = _limit(len(expected)), statistics.fmean(map(_variance, expected.values()))
    found = []
    if len(expected) >= LEAST_NOTES:
        own = _moved(measured, tests=earlier, names=expected)
        others = _moved(measured, tests=siblings, names=expected, least=LEAST_SIBLINGS)
        for note in expected.values():
            cents = measured[note.written] - general
            one = _surprise(note, cents=cents, error=error, mean=mean, limit=limit, own=own, others=others)
            found += [one] if one else []
    return Intonation(
        general=general,
        is_off_throughout=abs(general) > max(THROUGHOUT, limit * math.sqrt(error)),
        surprises=tuple(sorted(found, key=lambda one: (-abs(one.excess), midi_of(one.written)))),
    )


def _limit(notes: int) -> float:
    return statistics.NormalDist().inv_cdf(1 - FALSE_ALARMS / (2 * notes))


def _band(note: NoteResult) -> tuple[float, float]:
    cents = note.cents or 0.0
    low = cents if note.cents_low is None else note.cents_low
    return low, cents if note.cents_high is None else note.cents_high


def _lasting(note: NoteResult) -> float:
    return LASTING_WIDE if note.partial in WIDE_PARTIALS else LASTING


def _variance(note: NoteResult) -> float:
    """Return how far a note may lie from the middle of its band, squared."""
    low, high = _band(note)
    return _lasting(note) ** 2 + SCATTER**2 + (high - low) ** 2 / 12


def _weighted_median(values: Iterable[tuple[float, float]]) -> float:
    """Return the middle of (value, weight): no single note pulls it away."""
    ordered = sorted(values)
    half, sum_ = sum(weight for _, weight in ordered) / 2, 0.0
    for (value, weight), (following, _) in zip(ordered, [*ordered[1:], ordered[-1]], strict=True):
        sum_ += weight
        if math.isclose(sum_, half):
            return (value + following) / 2
        if sum_ > half:
            return value
    return ordered[-1][0]


@dataclass(frozen=True, slots=True)
class _Moved:
    """How far a note lies from where other tests have it, beside the other notes."""

    cents: float
    tests: int
    shared: int  # notes that tell how the tests as a whole differ

    def variance(self, one: float, *, mean: float) -> float:
        """Return how far it may lie by chance, squared: a single value's variance, and the mean of all notes'."""
        return (1 + 1 / self.tests) * (one + mean * OF_MEDIAN / self.shared)


def _moved(measured: Measured, *, tests: Sequence[Measured], names: Iterable[str], least: int = 1) -> dict[str, _Moved]:
    """Return the notes that at least so many of the tests have, each with how far it moved beside the others."""
    found: dict[str, list[float]] = {}
    fewest = 0
    for test in tests:
        shared = [name for name in names if name in test]
        if len(shared) < LEAST_NOTES:
            continue
        whole = statistics.median(measured[name] - test[name] for name in shared)
        fewest = min(fewest or len(shared), len(shared))
        for name in shared:
            found.setdefault(name, []).append(measured[name] - test[name] - whole)
    return {
        name: _Moved(statistics.fmean(cents), tests=len(cents), shared=fewest)
        for name, cents in found.items()
        if len(cents) >= least
    }


def _surprise(
    note: NoteResult,
    *,
    cents: float,
    error: float,
    mean: float,
    limit: float,
    own: Mapping[str, _Moved],
    others: Mapping[str, _Moved],
) -> Surprise | None:
    low, high = _band(note)
    nearest = min(max(cents, low), high)
    against, excess, variance = Against.LENGTHS, cents - nearest, _lasting(note) ** 2 + SCATTER**2 + error
    if note.written in own:
        moved = own[note.written]
        against, excess, variance = Against.EARLIER, moved.cents, moved.variance(SCATTER**2, mean=SCATTER**2)
    elif note.written in others:
        moved = others[note.written]
        against, excess, variance = Against.SIBLINGS, moved.cents, moved.variance(_variance(note), mean=mean)
    if abs(excess) <= limit * math.sqrt(variance):
        return None
    pulled = low - natural_cents(note.partial)  # as far as a slide takes it
    is_slide = high > pulled and pulled - SCATTER <= cents <= high + SCATTER  # where the player had the slide
    if is_slide or (note.because and abs(cents - nearest) <= EXPLAINED):
        return None
    return Surprise(note.written, measured=cents, predicted=cents - excess, excess=excess, against=against)
