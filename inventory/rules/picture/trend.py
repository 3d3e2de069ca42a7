"""An instrument's play tests over the years on one chart: how far off it was, and how widely its notes lay.

Lengths are units of the view box (1 = one CSS pixel on a phone). Cents are positive when sharp and grow upward.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import ceil, floor
from typing import Literal

from core.days import full_day, month_and_year
from core.translation import gettext as _
from core.translation import ngettext

PAGES = {"phone": (328.0, 208.0), "wide": (556.0, 244.0), "small": (328.0, 190.0)}  # width, height
LEFT, RIGHT, TOP, BOTTOM = 40.0, 2.0, 12.0, 40.0  # room for the scales
WORDS_DOWN = 34.0  # from the floor to the words of a day; failed notes stand between
STEPS = (5, 10, 20, 25, 50, 100)  # cents between lines of the scale
MOST_LINES = 6
LEAST_SPAN = 20.0  # cents: an instrument that holds its pitch does not look as if it wandered
BESIDE = 9.0  # the tuning note stands this far right of its test
APART = 18.0  # a dot stands at least this far from the next, so that tests of one week can be told apart


@dataclass(frozen=True, slots=True)
class TrendTest:
    """One play test: cents at 20 degrees Celsius; ``mean`` is None where nothing was measured."""

    on: date
    mean: float | None
    low: float | None = None  # the flattest note
    high: float | None = None  # the sharpest
    tuning: float | None = None  # the tuning note
    failed: int = 0  # notes that did not sound

    @property
    def has_range(self) -> bool:
        return self.low is not None and self.high is not None and self.high > self.low


@dataclass(frozen=True, slots=True)
class Point:
    """A test where it stands on the chart. ``y`` is None where nothing was measured."""

    test: TrendTest
    x: float
    y: float | None
    y_low: float | None
    y_high: float | None
    y_tuning: float | None
    said: str

    @property
    def x_tuning(self) -> float:
        return round(self.x + BESIDE, 1)

    @property
    def reach(self) -> float:
        """How far down the flattest note lies from the sharpest."""
        return round(self.y_low - self.y_high, 1) if self.y_low is not None and self.y_high is not None else 0.0


@dataclass(frozen=True, slots=True)
class Rule:
    """A line of the scale with its words."""

    at: float
    words: str
    is_zero: bool = False


@dataclass(frozen=True, slots=True)
class TrendDrawing:
    """A finished chart. ``line`` joins first and last day along the fitted trend, None without one."""

    title: str
    width: float
    height: float
    left: float
    right: float
    floor: float  # y below which the days are written
    cents: tuple[Rule, ...]
    days: tuple[Rule, ...]
    points: tuple[Point, ...]
    line: tuple[float, float, float, float] | None
    words_down: float = WORDS_DOWN

    @property
    def span(self) -> float:
        return self.right - self.left


def trend(
    *,
    tests: Sequence[TrendTest],
    width: Literal["phone", "wide", "small"],
    fitted: tuple[float, float] | None = None,
) -> TrendDrawing:
    """Return the tests as a chart, oldest left. ``fitted``: cents of the trend on the first and on the last measured day.

    ValueError without a test.
    """
    if not tests:
        raise ValueError("no test to draw")
    page, height = PAGES[width]
    ordered = sorted(tests, key=lambda test: test.on)
    scale = scale_of(ordered, fitted=fitted)
    base = height - BOTTOM
    low, high = scale[0], scale[-1]

    def y_of(cents: float | None) -> float | None:
        return None if cents is None else round(base - (cents - low) / (high - low) * (base - TOP), 1)

    xs = places_of([test.on for test in ordered], left=LEFT + 12, right=page - RIGHT - 28)
    points = tuple(
        Point(
            test=test,
            x=x,
            y=y_of(test.mean),
            y_low=y_of(test.low) if test.has_range else None,
            y_high=y_of(test.high) if test.has_range else None,
            y_tuning=y_of(test.tuning),
            said=said_of(test),
        )
        for test, x in zip(ordered, xs, strict=True)
    )
    measured = [point for point in points if point.y is not None]
    line = None
    if fitted is not None and len(measured) > 1:
        first, last = y_of(fitted[0]), y_of(fitted[1])
        if first is not None and last is not None:
            line = (measured[0].x, first, measured[-1].x, last)
    return TrendDrawing(
        title=ngettext(
            "Pitch in the play test of %(first)s",
            "Pitch in %(number)s play tests, %(first)s to %(last)s",
            len(points),
            first=month_and_year(ordered[0].on),
            last=month_and_year(ordered[-1].on),
        ),
        width=page,
        height=height,
        left=LEFT,
        right=page - RIGHT,
        floor=base,
        cents=tuple(Rule(at=y, words=signed(c), is_zero=c == 0) for c in scale if (y := y_of(c)) is not None),
        days=day_rules(points, room=52.0),
        points=points,
        line=line,
    )


def scale_of(tests: Sequence[TrendTest], *, fitted: tuple[float, float] | None = None) -> tuple[int, ...]:
    """Return the cents at which the scale has lines, ascending; 0 is always among them."""
    values = [0.0, *(fitted or ())]
    for test in tests:
        values += [value for value in (test.mean, test.low, test.high, test.tuning) if value is not None]
    low, high = min(values), max(values)
    if high - low < LEAST_SPAN:
        middle = (low + high) / 2
        low, high = min(low, middle - LEAST_SPAN / 2), max(high, middle + LEAST_SPAN / 2)
    step = next((one for one in STEPS if ceil(high / one) - floor(low / one) <= MOST_LINES), 0)
    step = step or STEPS[-1] * ceil((high - low) / (STEPS[-1] * (MOST_LINES - 1)))
    return tuple(range(floor(low / step) * step, ceil(high / step) * step + 1, step))


def places_of(days: Sequence[date], *, left: float, right: float) -> tuple[float, ...]:
    """Return where each day stands: by the calendar, but never so close that two cannot be told apart."""
    if len(days) == 1:
        return (round((left + right) / 2, 1),)
    span = (days[-1] - days[0]).days or 1
    apart = min(APART, (right - left) / (len(days) - 1))
    xs = [left + (right - left) * (day - days[0]).days / span for day in days]
    for i in range(1, len(xs)):
        xs[i] = max(xs[i], xs[i - 1] + apart)
    xs[-1] = min(xs[-1], right)
    for i in range(len(xs) - 2, -1, -1):
        xs[i] = min(xs[i], xs[i + 1] - apart)
    return tuple(round(x, 1) for x in xs)


def day_rules(points: Sequence[Point], *, room: float) -> tuple[Rule, ...]:
    """Return the days to write below: the last, the first, and what fits between with ``room`` for each."""
    if len(points) == 1:
        return (Rule(at=points[0].x, words=month_and_year(points[0].test.on)),)
    kept: list[Point] = [points[-1]]
    for point in (points[0], *points[1:-1]):
        if all(abs(point.x - other.x) >= room for other in kept):
            kept.append(point)
    return tuple(Rule(at=point.x, words=month_and_year(point.test.on)) for point in sorted(kept, key=lambda one: one.x))


def signed(cents: float) -> str:
    rounded = round(cents)
    return f"+{rounded}" if rounded > 0 else f"−{-rounded}" if rounded < 0 else "0"


def said_of(test: TrendTest) -> str:
    """Return a test in words, for those who do not see the chart."""
    words = [full_day(test.on)]
    if test.mean is None:
        words.append(_("nothing measured"))
    else:
        words.append(_("%(cents)s cents on average", cents=signed(test.mean)))
    if test.has_range and test.low is not None and test.high is not None:
        words.append(_("notes from %(low)s to %(high)s", low=signed(test.low), high=signed(test.high)))
    if test.tuning is not None:
        words.append(_("tuning note %(cents)s", cents=signed(test.tuning)))
    if test.failed:
        words.append(ngettext("%(number)s note failed", "%(number)s notes failed", test.failed))
    return ", ".join(words)
