"""The play tests of one horn in the order of time, and whether they drift."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import fmean, pstdev

from django.utils import timezone

from inventory.models import Instrument, PlayTest
from inventory.rules.picture.trend import TrendTest
from inventory.rules.pitch import DAYS_PER_YEAR, Drift, corrected_cents, drift, leveled, temperature_cents
from inventory.selectors.playing import measured

LEAST_LEVELED = 0.5  # cents; less is not worth a word


@dataclass(frozen=True, slots=True)
class TrendRow:
    """One test as a line of the table; cents at 20 degrees Celsius where the room was noted."""

    test: PlayTest
    on: date
    mean: float | None
    is_leveled: bool  # put right by half a cent or more for the notes that were left out
    spread: float | None  # standard deviation over the notes, None with fewer than two
    tuning: float | None
    notes: int  # how many were measured
    failed: int
    weak: int
    room_cents: float | None

    @property
    def point(self) -> TrendTest:
        cents = measured(self.test).values()
        return TrendTest(
            on=self.on,
            mean=self.mean,
            low=min(cents) if len(cents) > 1 else None,
            high=max(cents) if len(cents) > 1 else None,
            tuning=self.tuning,
            failed=self.failed,
        )


@dataclass(frozen=True, slots=True)
class TrendPage:
    instrument: Instrument
    rows: Sequence[TrendRow]  # oldest first
    points: Sequence[TrendTest]
    drift: Drift | None
    fitted: tuple[float, float] | None
    words: str

    @property
    def newest_first(self) -> list[TrendRow]:
        return list(reversed(self.rows))

    @property
    def is_marked_uncorrected(self) -> bool:
        """Whether some test has no room temperature, so that its cents stand as measured."""
        return any(row.mean is not None and row.room_cents is None for row in self.rows)

    @property
    def is_marked_leveled(self) -> bool:
        """Whether the tests measured different notes, so that plain means would not compare."""
        return any(row.is_leveled for row in self.rows)


def trend_row(test: PlayTest, *, level: float | None) -> TrendRow:
    """Read one test, ``level`` being its pitch beside the others. Without measured notes the tuning note stands for it."""
    cents = list(measured(test).values())
    celsius = None if test.room_celsius is None else float(test.room_celsius)
    tuning = None if test.tuning_cents is None else float(test.tuning_cents)
    if tuning is not None and celsius is not None:
        tuning = corrected_cents(tuning, celsius=celsius)
    return TrendRow(
        test=test,
        on=timezone.localdate(test.played_at),
        mean=tuning if level is None else level,
        is_leveled=level is not None and abs(level - fmean(cents)) >= LEAST_LEVELED,
        spread=pstdev(cents) if len(cents) > 1 else None,
        tuning=tuning,
        notes=len(cents),
        failed=len(test.failed_notes),
        weak=len(test.weak_notes),
        room_cents=None if celsius is None else temperature_cents(celsius),
    )


def trend_page(instrument: Instrument) -> TrendPage:
    """Gather every play test of the horn. One query."""
    tests = list(PlayTest.objects.filter(instrument=instrument).select_related("actor").order_by("played_at", "pk"))
    levels = iter(leveled([cents for test in tests if (cents := measured(test))]))
    rows = [trend_row(test, level=next(levels) if measured(test) else None) for test in tests]
    dated = [(row.on, row.mean) for row in rows if row.mean is not None]
    found = drift(tests=dated)
    return TrendPage(
        instrument=instrument,
        rows=rows,
        points=[row.point for row in rows],
        drift=found,
        fitted=fitted_ends(dated, found),
        words=drift_words(found, measured_tests=len(dated)),
    )


def fitted_ends(dated: Sequence[tuple[date, float]], found: Drift | None) -> tuple[float, float] | None:
    """Return the trend line's cents on the first and on the last measured day: it passes through the mean of both."""
    if found is None:
        return None
    first = min(on for on, _ in dated)
    years = [(on - first).days / DAYS_PER_YEAR for on, _ in dated]
    start = fmean(cents for _, cents in dated) - found.cents_per_year * fmean(years)
    return start, start + found.cents_per_year * max(years)


def drift_words(found: Drift | None, *, measured_tests: int) -> str:
    """Say what the tests together tell."""
    if measured_tests == 0:
        return "No test has measured the pitch yet: play one with the microphone or a tuner."
    if found is None:
        more = max(3 - measured_tests, 0)
        tail = f"{more} more, on another day, will tell." if more else "A test on another day will tell."
        return f"Too few measured tests to see a trend: {tail}"
    word = "sharper" if found.change > 0 else "flatter"
    moved = (
        f"{abs(found.change):.0f} cents {word} from the first test to the last, {abs(found.cents_per_year):.0f} a year"
    )
    if found.is_flagged:
        return f"It drifts: {moved}. That is more than tests usually differ."
    return f"It holds its pitch: {moved}, no more than tests usually differ."
