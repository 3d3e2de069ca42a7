"""The play tests of one instrument over time, and whether its pitch drifts."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from statistics import fmean, pstdev
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext, ngettext

from inventory.models import Instrument, PlayTest
from inventory.rules.picture.trend import TrendTest
from inventory.rules.pitch import DAYS_PER_YEAR, Drift, drift, leveled
from inventory.selectors.playing import measured, play_tests_of, room_cents, slide_shift

LEAST_LEVELED = 0.5  # cents; a smaller correction is not mentioned


def trend_row(test: PlayTest, *, level: float | None) -> dict[str, Any]:
    """One test as a line of the table, ``level`` being its pitch beside the others.

    Cents are at 20 degrees Celsius where the room was noted. Without measured notes the tuning note stands for it.
    """
    cents = list(measured(test).values())
    room = room_cents(test)
    tuning = None if test.tuning_cents is None else float(test.tuning_cents) - (room or 0.0)
    on, failed = timezone.localdate(test.played_at), len(test.failed_notes)
    # With the main slide at pitch where it is noted how far out it was.
    mean = tuning if level is None else level + slide_shift(test)
    low, high = (min(cents), max(cents)) if len(cents) > 1 else (None, None)
    return {
        "test": test,
        "on": on,
        "mean": mean,
        "point": TrendTest(on=on, mean=mean, low=low, high=high, tuning=tuning, failed=failed),
        # Corrected by half a cent or more for the notes that were left out.
        "is_leveled": level is not None and abs(level - fmean(cents)) >= LEAST_LEVELED,
        # Standard deviation over the notes, None with fewer than two.
        "spread": pstdev(cents) if len(cents) > 1 else None,
        "tuning": tuning,
        "notes": len(cents),  # how many were measured
        "failed": failed,
        "weak": len(test.weak_notes),
        "room_cents": room,
    }


def trend_page(instrument: Instrument) -> dict[str, Any]:
    """Show every play test of the instrument. One query."""
    tests = play_tests_of(instrument)
    levels = iter(leveled([cents for test in tests if (cents := measured(test))]))
    rows = [trend_row(test, level=next(levels) if measured(test) else None) for test in tests]
    dated = [(row["on"], row["mean"]) for row in rows if row["mean"] is not None]
    found = drift(tests=dated)
    return {
        "instrument": instrument,
        "rows": rows,  # oldest first
        "newest_first": rows[::-1],
        # Whether some test has no room temperature, so that its cents stand as measured.
        "is_marked_uncorrected": any(row["mean"] is not None and row["room_cents"] is None for row in rows),
        # Whether the tests measured different notes, so that plain means would not compare.
        "is_marked_leveled": any(row["is_leveled"] for row in rows),
        "points": [row["point"] for row in rows],
        "drift": found,
        "fitted": fitted_ends(dated, found),
        "words": drift_words(found, measured_tests=len(dated)),
    }


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
