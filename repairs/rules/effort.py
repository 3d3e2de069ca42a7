"""Honest time: what low, likely and high add up to, as chances instead of one number."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import lru_cache, reduce
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import special

Floats = NDArray[np.floating[Any]]

PRIOR_RECORDS = 4.0  # records that the starting estimate of a method is worth
START_SPREAD = 0.35  # sd of log(true / likely) assumed for the estimate of a method nobody has timed
START_PACE_SPREAD = 0.28  # sd of log(pace of a whole bench) before anything is timed
METHOD_PACE_SPREAD = 0.3  # sd of log(pace of one method at a bench, beside the bench's own) before it is timed
PERSON_PACE_SPREAD = 0.15  # sd of log(pace of one person, beside the bench's own) before anything is timed
DRIFT_SPREAD = 0.1  # sd of log(pace) that no record takes away: benches get faster and slower
ENDS = 2.6  # low and high of a PERT span lie about so many deviations out
NEGLIGIBLE = 1e-12
GRID_POINTS = 1500


@dataclass(frozen=True, slots=True)
class Range:
    """A low, likely and high figure in one unit: minutes or dollars."""

    low: float
    likely: float
    high: float

    def times(self, factor: float) -> Range:
        return Range(low=self.low * factor, likely=self.likely * factor, high=self.high * factor)

    def plus(self, other: Range) -> Range:
        return Range(low=self.low + other.low, likely=self.likely + other.likely, high=self.high + other.high)


NOTHING = Range(low=0.0, likely=0.0, high=0.0)


@dataclass(frozen=True, slots=True)
class Estimate:
    """A quantity not known yet: half the time it stays under p50, four times in five under p80."""

    p50: float
    p80: float
    mean: float


def pert_mean(span: Range) -> float:
    """Return (low + 4 likely + high) / 6."""
    return (span.low + 4.0 * span.likely + span.high) / 6.0


@dataclass(frozen=True, slots=True)
class SetUp:
    """Minutes of a step that are setting up and cleaning up, and the largest share of it that they count for."""

    minutes: float
    share: float

    @classmethod
    def of(cls, settings: Mapping[str, Decimal]) -> SetUp:
        """Return what a catalog says; nothing where it says nothing."""
        return cls(minutes=float(settings.get("set_up_minutes", 0)), share=float(settings.get("set_up_share", 0)))

    def within(self, minutes: float) -> float:
        """Return how many of a step's minutes are set-up."""
        return min(self.minutes, self.share * minutes)

    def done_before(self, span: Range) -> Range:
        """Return what is left of a step that another one has set up."""
        mean = pert_mean(span)
        return span.times(1.0 - self.within(mean) / mean) if mean else span


@dataclass(frozen=True, slots=True)
class Distribution:
    """Chances of the values 0, step, 2 step, …; ``masses`` add up to 1."""

    step: float
    masses: Floats

    @property
    def mean(self) -> float:
        return float(np.arange(len(self.masses)) @ self.masses) * self.step

    def plus(self, other: Distribution) -> Distribution:
        """Return the distribution of the sum of two independent quantities on the same grid."""
        if len(self.masses) == 1 or len(other.masses) == 1:  # one of the two is nothing
            return max(self, other, key=lambda one: len(one.masses))
        masses = np.convolve(self.masses, other.masses)
        size = len(masses)
        while masses[size - 1] < NEGLIGIBLE:
            size -= 1
        return Distribution(step=self.step, masses=masses[:size] / masses[:size].sum())

    def only_with(self, chance: float) -> Distribution:
        """Return this quantity with the given chance and nothing otherwise."""
        masses = self.masses * chance
        masses[0] += 1.0 - chance
        return Distribution(step=self.step, masses=masses)

    def on_grid(self, step: float) -> Distribution:
        """Return the same quantity on another grid, each mass split over two points so that the mean is kept."""
        return _split(np.arange(len(self.masses)) * self.step, self.masses, step=step)

    def quantile(self, share: float) -> float:
        """Return the value below which this share lies, the mass of a grid point spread evenly half a step around it.

        A point with more than half of all mass is a known value, not a piece of a curve: it answers for itself.
        """
        cumulative = np.cumsum(self.masses)
        at = min(int(np.searchsorted(cumulative, share - NEGLIGIBLE)), len(cumulative) - 1)
        if at == 0 or self.masses[at] > 0.5:
            return at * self.step
        inside = (share - float(cumulative[at - 1])) / float(self.masses[at])
        return (at - 0.5 + min(max(inside, 0.0), 1.0)) * self.step

    @property
    def estimate(self) -> Estimate:
        return Estimate(p50=self.quantile(0.5), p80=self.quantile(0.8), mean=self.mean)


def _split(values: Floats, masses: Floats, *, step: float) -> Distribution:
    """Put masses at any values on a grid: each on the two points around its value, so that the mean is kept."""
    points = values / step
    below = np.floor(points + 1e-9).astype(int)
    above = np.clip(points - below, 0.0, 1.0)
    size = int(below[-1]) + 1 + int(above[-1] > 0.0)
    found: Floats = np.bincount(below, weights=masses * (1.0 - above), minlength=size).astype(float)
    found[1:] += np.bincount(below + 1, weights=masses * above, minlength=size)[1:size]
    return Distribution(step=step, masses=found)


def nothing(*, step: float) -> Distribution:
    return Distribution(step=step, masses=np.ones(1))


def certainly(value: float, *, step: float) -> Distribution:
    """Return a known value, split over the two grid points around it so that the mean is kept."""
    return spread(Range(low=value, likely=value, high=value), step=step)


def spread(span: Range, *, step: float) -> Distribution:
    """Return the PERT distribution of a span: Beta on low to high with mean (low + 4 likely + high) / 6.

    Each grid point carries the chance around it weighted by a hat, so that the mean is exact on any grid.
    """
    masses = _pert_masses(round(span.low / step, 6), round(span.likely / step, 6), round(span.high / step, 6))
    return Distribution(step=step, masses=masses)


@lru_cache(maxsize=4096)
def _pert_masses(low: float, likely: float, high: float) -> Floats:
    """Return the chances of the points 0, 1, 2, … under the Beta on low to high: second differences of its integral."""
    width = high - low
    if width < 1e-6:
        return _split(np.array([likely]), np.ones(1), step=1.0).masses
    alpha = 1.0 + 4.0 * (likely - low) / width
    beta = 1.0 + 4.0 * (high - likely) / width
    first, last = math.floor(low), math.ceil(high)
    unit = np.clip((np.arange(first, last + 1) - low) / width, 0.0, 1.0)
    # integral of the distribution function F up to x: x F(x) - E[t; t < x]
    area = width * (
        unit * special.betainc(alpha, beta, unit) - alpha / (alpha + beta) * special.betainc(alpha + 1.0, beta, unit)
    )
    area[-1] += last - high
    slopes = np.diff(area, prepend=0.0, append=area[-1] + 1.0)
    masses = np.zeros(last + 1)
    masses[first:] = np.clip(np.diff(slopes), 0.0, None)
    found: Floats = masses / masses.sum()
    found.flags.writeable = False
    return found


def mixture(parts: Sequence[tuple[float, Distribution]]) -> Distribution:
    """Return the distribution that is each part with its chance; chances add up to 1."""
    masses = np.zeros(max(len(part.masses) for _, part in parts))
    for chance, part in parts:
        masses[: len(part.masses)] += chance * part.masses
    return Distribution(step=parts[0][1].step, masses=masses)


def climb(tries: Sequence[tuple[float, Distribution]], *, step: float) -> Distribution:
    """Return what a ladder takes in all: the tries up to the first success, or all of them. Exact on the grid.

    Each try is the chance that it is the last, and what it takes.
    """
    rest = nothing(step=step)
    for p, takes in reversed(tries):
        rest = takes.plus(rest.only_with(1.0 - p))
    return rest


def total(parts: Iterable[Distribution], *, step: float) -> Distribution:
    """Return the distribution of the sum of independent parts."""
    return reduce(Distribution.plus, sorted(parts, key=lambda part: len(part.masses)), nothing(step=step))


def grid_step(*, largest: float, finest: float) -> float:
    """Return a round step that keeps ``largest`` within the grid without going below ``finest``."""
    step = finest
    while largest / step > GRID_POINTS:
        step *= 2.0
    return step


HERMITE = tuple(
    (float(at) * math.sqrt(2.0), float(weight) / math.sqrt(math.pi))
    for at, weight in zip(*np.polynomial.hermite.hermgauss(5), strict=True)
)


@dataclass(frozen=True, slots=True)
class Pace:
    """How a bench's own times compare with the starting estimates of one method."""

    records: int
    log_mean: float  # log of the mean of minutes / likely
    log_deviation: float  # sd of log(minutes / likely)


@dataclass(frozen=True, slots=True)
class MethodTimes:
    """Recorded times per method, or per ``ladder.rung``. Empty: starting estimates only.

    A method timed n times moves from the starting estimate to the bench's own pace with weight n / (n + 4) on the log
    scale; a method not timed yet borrows the pace of the whole bench.
    """

    by_method: Mapping[str, Pace] = field(default_factory=dict)
    bench: Pace = Pace(records=0, log_mean=0.0, log_deviation=START_SPREAD)
    person_spread: float = PERSON_PACE_SPREAD  # sd of log(pace) between those who may do the job
    prior_records: float = PRIOR_RECORDS

    def learned(self, method: str, span: Range) -> Range:
        """Return the span as this bench's records have it; unchanged where nothing is recorded.

        The middle moves by the blended pace. The width follows the recorded spread in the same blend, never less than
        a third of the starting width, so that a few lucky equal times make no promise. Records compare with the likely
        minutes, and the mean of a span lies above them: that part is not lateness and is taken out.
        """
        if span.likely <= 0:
            return span
        lean = math.log(pert_mean(span) / span.likely)
        general = self._weight(self.bench.records) * (self.bench.log_mean - lean)
        own = self.by_method.get(method)
        if own is None:
            return span.times(math.exp(general)) if general else span
        weight = self._weight(own.records)
        factor = math.exp(weight * (own.log_mean - lean) + (1.0 - weight) * general)
        start, likely = span.times(factor), span.likely * factor
        seen_low = likely * math.exp(-ENDS * own.log_deviation)
        seen_high = likely * math.exp(ENDS * own.log_deviation)
        low = (1.0 - weight) * start.low + weight * min(seen_low, likely - (likely - start.low) / 3.0)
        high = (1.0 - weight) * start.high + weight * max(seen_high, likely + (start.high - likely) / 3.0)
        middle = (6.0 * pert_mean(start) - low - high) / 4.0  # keeps the mean where the records put it
        return Range(low=low, likely=min(max(middle, low), high), high=high)

    def paces(self, minutes: Mapping[str, float]) -> tuple[tuple[float, float], ...]:
        """Return how fast work may turn out to go as a whole: five factors of mean 1, each with its chance.

        ``minutes`` says how long each method takes on average in it. The pace of the bench is in all of it, that of who
        does it too; that of a method is in all its steps, so the more of the work is one method, the less it evens out.
        Variances of the logs add up, each method's by the square of its share. Records narrow bench and methods, but
        not below what pace drifts. The points and chances are those of Gauss and Hermite.
        """
        whole = sum(minutes.values())
        variance = (
            START_PACE_SPREAD**2 * (1.0 - self._weight(self.bench.records)) + DRIFT_SPREAD**2 + self.person_spread**2
        )
        for method, one in minutes.items():
            own = self.by_method.get(method)
            left = 1.0 - self._weight(own.records if own else 0)
            variance += METHOD_PACE_SPREAD**2 * left * (one / whole) ** 2 if whole else 0.0
        factors = [(chance, math.exp(math.sqrt(variance) * at)) for at, chance in HERMITE]
        mean = sum(chance * factor for chance, factor in factors)
        return tuple((chance, factor / mean) for chance, factor in factors)

    def _weight(self, records: int) -> float:
        return records / (records + self.prior_records)


@dataclass(frozen=True, slots=True)
class TimeRecord:
    """One timed step: what it took, and the likely minutes it was planned with before learning."""

    method: str  # or ladder.rung
    minutes: float
    likely: float
    person: str = ""  # who did it, "" if nobody knows


def learn_times(records: Iterable[TimeRecord], *, prior_records: float = PRIOR_RECORDS) -> MethodTimes:
    """Return what the bench's records teach. Times of zero or less are ignored: the clock was not started."""
    logs: dict[str, list[float]] = defaultdict(list)
    done: dict[str, list[tuple[str, float]]] = defaultdict(list)
    for record in records:
        if record.minutes > 0 and record.likely > 0:
            log = math.log(record.minutes / record.likely)
            logs[record.method].append(log)
            done[record.person].append((record.method, log))
    everything = [value for values in logs.values() for value in values]
    return MethodTimes(
        by_method={method: _pace(values) for method, values in logs.items()},
        bench=_pace(everything) if everything else MethodTimes().bench,
        person_spread=_person_spread(done, logs, prior_records=prior_records) if everything else PERSON_PACE_SPREAD,
        prior_records=prior_records,
    )


def _person_spread(
    done: Mapping[str, Sequence[tuple[str, float]]], logs: Mapping[str, Sequence[float]], *, prior_records: float
) -> float:
    """Return the standard deviation of log(pace) between people, each weighted by how often they are in the records.

    A person's pace is the mean of what they took beyond the mean of the method, drawn toward none by ``prior_records``;
    what is not known of it yet adds to the spread, unless one person does everything: then it is the bench's pace.
    """
    middles = {method: sum(values) / len(values) for method, values in logs.items()}
    count = sum(len(values) for values in logs.values())
    if len(done) < 2:
        return 0.0
    variance = 0.0
    for values in done.values():
        weight = len(values) / (len(values) + prior_records)
        beyond = weight * sum(log - middles[method] for method, log in values) / len(values)
        variance += len(values) / count * (beyond**2 + (1.0 - weight) * PERSON_PACE_SPREAD**2)
    return math.sqrt(variance)


def _pace(values: Sequence[float]) -> Pace:
    """Return the pace of logs; the starting spread counts as PRIOR_RECORDS more of them."""
    mean = sum(values) / len(values)
    ratio = sum(math.exp(value) for value in values) / len(values)
    squares = sum((value - mean) ** 2 for value in values) + PRIOR_RECORDS * START_SPREAD**2
    return Pace(
        records=len(values),
        log_mean=math.log(ratio),
        log_deviation=math.sqrt(squares / (len(values) + PRIOR_RECORDS - 1)),
    )
