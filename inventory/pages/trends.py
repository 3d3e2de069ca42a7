"""The play tests of one instrument over time, and whether its pitch drifts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import fmean, pstdev

from django.utils import timezone
from django.utils.translation import gettext, ngettext

from inventory.models import Instrument, PlayTest
from inventory.rules.picture.trend import TrendTest
from inventory.rules.pitch import DAYS_PER_YEAR, Drift, drift, leveled
from inventory.selectors.playing import measured, play_tests_of, room_cents, slide_shift

LEAST_LEVELED = 0.5  # cents; a smaller correction is not mentioned


@dataclass(frozen=True, slots=True)
class TrendRow:
    """One test as a line of the table; cents at 20 degrees Celsius where the room was noted."""

    test: PlayTest
    on: date
    mean: float | None  # with the main slide at pitch where it is noted how far out it was
    is_leveled: bool  # corrected by half a cent or more for the notes that were left out
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
    room = room_cents(test)
    tuning = None if test.tuning_cents is None else float(test.tuning_cents) - (room or 0.0)
    return TrendRow(
        test=test,
        on=timezone.localdate(test.played_at),
        mean=tuning if level is None else level + slide_shift(test),
        is_leveled=level is not None and abs(level - fmean(cents)) >= LEAST_LEVELED,
        spread=pstdev(cents) if len(cents) > 1 else None,
        tuning=tuning,
        notes=len(cents),
        failed=len(test.failed_notes),
        weak=len(test.weak_notes),
        room_cents=room,
    )


def trend_page(instrument: Instrument) -> TrendPage:
    """Show every play test of the instrument. One query."""
    tests = play_tests_of(instrument)
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
    """Say what the tests together show."""
    if measured_tests == 0:
        return gettext("No test has measured the pitch yet: play one with the microphone or a tuner.")
    if found is None:
        more = max(3 - measured_tests, 1)
        return ngettext(
            "Too few measured tests to see a trend: %(count)d more, on another day, will show it.",
            "Too few measured tests to see a trend: %(count)d more, on other days, will show it.",
            more,
        ) % {"count": more}
    facts = {"change": abs(found.change), "rate": abs(found.cents_per_year)}
    if found.change > 0:
        moved = gettext("%(change).0f cents sharper from the first test to the last, %(rate).0f a year") % facts
    else:
        moved = gettext("%(change).0f cents flatter from the first test to the last, %(rate).0f a year") % facts
    if found.is_flagged:
        return gettext("It drifts: %(moved)s. Chance alone would show this in about 1 of 20 instruments that hold.") % {
            "moved": moved
        }
    return gettext("It holds its pitch: %(moved)s, no more than chance and the players' differences account for.") % {
        "moved": moved
    }
