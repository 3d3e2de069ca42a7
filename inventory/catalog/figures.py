"""The figures that a district sets for itself: which there are, what is accepted, and how each is said.

Settings with a name and the months of every care interval; prices, lives and upkeep of kinds; minutes of methods; the
chances of each way to free a stuck part; the end of the school year, which is two settings; and the time zone, which is
none. Everything is read from the catalog, so a new setting with a name is offered by itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from functools import lru_cache
from typing import Any
from zoneinfo import available_timezones

from core.days import full_month_day
from core.money import CENT, dollars
from core.translation import gettext as _
from inventory.catalog.load import Figures
from inventory.catalog.schema import CareInterval, Catalog, Kind, Ladder, Origin, Setting

TIME_ZONE, BENCH_RATE, SCHOOL_YEAR_ENDS = "time_zone", "bench_rate_amount", "school_year_ends"
# Days of the year, each of two settings: its month and its day.
DAYS = {
    SCHOOL_YEAR_ENDS: (
        _("School year ends"),
        _("The last day of the school year. Loans run until then unless you choose otherwise."),
    ),
    "first_term_ends": (
        _("First term ends"),
        _("The last day of the first term. Loans for a term run until then unless you choose otherwise."),
    ),
    "fiscal_year_begins": (
        _("Fiscal year begins"),
        _("The first day of the district's fiscal year. Additions, disposals and transfers are counted by it."),
    ),
}
A_COMMON_YEAR = 2025
PRICE_MOST, LIFE_MOST, UPKEEP_MOST, MINUTES_MOST = 100_000, 100, 5000, 6000
DOLLARS = "dollars"
LOW_LIKELY_HIGH = 3
RANGE_JOIN = " – "
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3}(?!\d))")
_BETWEEN = re.compile(r"(?<=[\d\s])(?:[-–—,;/]|to\b)(?=[\d\s])|\$")
MONTHS_LEAST, MONTHS_MOST = 1, 120  # of a care interval, as the catalog's own files may say them
# The zones of the United States first, by what people call them; the rest by their place.
USUAL_ZONES = (
    ("America/New_York", "Eastern"),
    ("America/Chicago", "Central"),
    ("America/Denver", "Mountain"),
    ("America/Phoenix", "Arizona"),
    ("America/Los_Angeles", "Pacific"),
    ("America/Anchorage", "Alaska"),
    ("Pacific/Honolulu", "Hawaii"),
    ("America/Puerto_Rico", "Puerto Rico"),
    ("Pacific/Guam", "Guam"),
)
REGIONS = ("Africa", "America", "Antarctica", "Asia", "Atlantic", "Australia", "Europe", "Indian", "Pacific")


class FigureError(ValueError):
    """What was typed is not accepted; the message says what is."""


class Shape(StrEnum):
    NUMBER = "number"
    RANGE = "range"  # two or three numbers that go up, "500 1100"
    YES_NO = "yes_no"
    DAY = "day"  # of every year, "05-29"
    ZONE = "zone"


@dataclass(frozen=True, slots=True)
class FigureRule:
    """One figure that a district may set. Its value is kept as text: a number in its plain form, a day, a zone."""

    key: str
    name: str
    group: str
    note: str
    default: str  # what holds where nothing is set
    origin: Origin
    shape: Shape = Shape.NUMBER
    unit: str = ""
    low: Decimal = Decimal(0)
    high: Decimal = Decimal(0)
    is_whole: bool = False
    is_percent: bool = False
    is_judged: bool = False  # stored verdicts, readiness or days of care depend on it
    above: str = ""  # key of the figure whose value it must be more than
    section: str = ""  # of the catalog, and below it code and field
    code: str = ""
    field: str = "value"
    parts: int = 1  # how many numbers a range has: low and high, or low, likely and high

    def typed(self, text: str) -> str:
        """What stands in the field for a value: percent for a share."""
        if self.shape is Shape.RANGE:
            return RANGE_JOIN.join(text.split())
        return _plain(Decimal(text) * 100) if self.is_percent else text

    def read(self, typed: str) -> str:
        """Return the value for what was typed; FigureError with what is accepted."""
        if self.shape is Shape.ZONE:
            if typed not in known_zones():
                raise FigureError(_("Choose a time zone from the list."))
            return typed
        if self.shape is Shape.DAY:
            return _day(typed)
        if self.shape is Shape.RANGE:
            return self._read_range(typed)
        try:
            value = Decimal(typed.strip().replace(",", "."))
        except InvalidOperation:
            raise FigureError(self.range_words) from None
        if self.is_percent and value.is_finite():
            value /= 100
        if not value.is_finite() or not self.low <= value <= self.high or (self.is_whole and value % 1):
            raise FigureError(self.range_words)
        exponent = value.as_tuple().exponent
        if isinstance(exponent, int) and exponent < -4:
            raise FigureError(_("Use no more than four digits after the point."))
        return _plain(value)

    def _read_range(self, typed: str) -> str:
        """Return the numbers of a range, from low to high; "1,100" is eleven hundred."""
        words = _BETWEEN.sub(" ", _THOUSANDS.sub("", typed)).split()
        try:
            numbers = [Decimal(word) for word in words]
            is_good = len(numbers) == self.parts and numbers == sorted(numbers)
        except InvalidOperation:
            is_good = False
        if not is_good or not all(self.low <= one <= self.high and not (self.is_whole and one % 1) for one in numbers):
            raise FigureError(self.range_words)
        return " ".join(_plain(one.quantize(CENT) if one % 1 else one) for one in numbers)

    @property
    def range_words(self) -> str:
        """What is accepted, as a sentence."""
        if self.shape is Shape.RANGE:
            ends = {"low": _plain(self.low), "high": _plain(self.high)}
            if self.parts == LOW_LIKELY_HIGH:
                return _("Enter the least, the usual and the most, from %(low)s to %(high)s, as in 10, 20, 40.", **ends)
            return _("Enter the least and the most, from %(low)s to %(high)s, as in 500 to 1,100.", **ends)
        low, high = self.typed(_plain(self.low)), self.typed(_plain(self.high))
        if self.is_whole:
            return _("Enter a whole number from %(low)s to %(high)s.", low=low, high=high)
        return _("Enter a number from %(low)s to %(high)s.", low=low, high=high)

    @property
    def hint_words(self) -> str:
        """Unit and range, beside the field: "dollars an hour, 0 to 300"."""
        if self.shape is Shape.RANGE:
            return f"{self.unit_words[:1].upper()}{self.unit_words[1:]}. {self.range_words}"
        low, high = self.typed(_plain(self.low)), self.typed(_plain(self.high))
        words = _("%(low)s to %(high)s", low=low, high=high)
        return f"{self.unit_words}, {words}" if self.unit_words else words

    @property
    def unit_words(self) -> str:
        """The unit beside the field."""
        if self.is_percent:
            return f"% {self.unit.removeprefix('share').strip()}".strip()
        return self.unit

    def in_words(self, text: str) -> str:
        """The value as a person says it, with its unit."""
        if self.shape is Shape.ZONE:
            return zone_words(text)
        if self.shape is Shape.DAY:
            month, day = map(int, text.split("-"))
            return full_month_day(date(A_COMMON_YEAR, month, day))
        if self.shape is Shape.RANGE:
            return self._range_value_words([Decimal(one) for one in text.split()])
        if self.section == "intervals":
            return _("not due") if text == "0" else _("every %(months)s months", months=text)
        return Setting(code=self.code, value=Decimal(text), note="", unit=self.unit).in_words

    def _range_value_words(self, numbers: list[Decimal]) -> str:
        words = [dollars(one) if self.unit == DOLLARS else _plain(one) for one in numbers]
        if len(words) == LOW_LIKELY_HIGH:
            low, likely, high = words
            return _(
                "%(low)s to %(high)s %(unit)s, usually %(likely)s", low=low, high=high, likely=likely, unit=self.unit
            )
        text = _("%(low)s to %(high)s", low=words[0], high=words[1])
        return text if self.unit == DOLLARS else f"{text} {self.unit}"

    def laid(self, text: str) -> Figures:
        """What the value puts into the catalog."""
        if self.shape is Shape.ZONE:
            return ()
        if self.shape is Shape.DAY:
            month, day = map(int, text.split("-"))
            return (("settings", f"{self.key}_month", "value", month), ("settings", f"{self.key}_day", "value", day))
        numbers = tuple(_number(Decimal(one)) for one in text.split())
        return ((self.section, self.code, self.field, numbers if self.shape is Shape.RANGE else numbers[0]),)


@lru_cache(maxsize=4)
def figure_rules(trade: Catalog, *, time_zone: str) -> Mapping[str, FigureRule]:
    """Return every figure by its key, from the catalog below what was set; ``time_zone`` holds where none is set."""
    return {rule.key: rule for rule in _rules(trade, time_zone=time_zone)}


def _rules(trade: Catalog, *, time_zone: str) -> Iterator[FigureRule]:
    yield FigureRule(
        key=TIME_ZONE,
        name=_("Time zone"),
        group="time",
        note=_("Each day begins and ends by it, and times are shown in it."),
        default=time_zone,
        origin=Origin.DEFAULT,
        shape=Shape.ZONE,
        is_judged=True,  # on which day an inspection was
    )
    notes = trade.setting_notes
    for key, (name, note) in DAYS.items():
        month, day = notes.get(f"{key}_month"), notes.get(f"{key}_day")
        if month and day:
            yield FigureRule(
                key=key,
                name=name,
                group="time",
                note=note,
                default=f"{int(month.value):02}-{int(day.value):02}",
                origin=month.origin,
                shape=Shape.DAY,
            )
    yield from (_of_setting(one) for one in notes.values() if one.name)
    for interval in trade.intervals.values():
        yield from _of_interval(interval)
    for kind in trade.kinds.values():
        yield from _of_kind(kind)
    for method in trade.methods.values():
        yield _range(
            f"minutes-{method.code}", name=method.name, group="minutes", section="methods", code=method.code,
            field="minutes", numbers=method.minutes, origin=method.origin, unit=_("minutes"), high=MINUTES_MOST,
            note=_("Hands-on time for one, on an instrument of the usual size."), is_whole=True,
        )  # fmt: skip
    for ladder in trade.ladders.values():
        yield from _of_ladder(ladder)


def _of_kind(kind: Kind) -> Iterator[FigureRule]:
    about: dict[str, Any] = {"group": "prices", "section": "kinds", "code": kind.code, "origin": kind.origin}
    for level, span in kind.prices.items():
        yield _range(
            f"price-{kind.code}-{level}",
            name=_("%(kind)s: price, %(level)s level", kind=kind.name, level=level),
            field=f"prices.{level}", numbers=span, unit=DOLLARS, high=PRICE_MOST,
            note=_("What a new one costs, from the least to the most. The middle is its replacement cost."), **about,
        )  # fmt: skip
    yield _range(
        f"life-{kind.code}", name=_("%(kind)s: life", kind=kind.name), field="life_years", numbers=kind.life_years,
        unit=_("years"), low=1, high=LIFE_MOST, is_whole=True,
        note=_("Years of school use, from the least to the most."), **about,
    )  # fmt: skip
    yield FigureRule(
        key=f"upkeep-{kind.code}", name=_("%(kind)s: upkeep", kind=kind.name), default=_plain(kind.upkeep),
        field="upkeep", unit=_("dollars a year"), high=Decimal(UPKEEP_MOST),
        note=_("What it costs in a year to keep one playing, when it is new."), **about,
    )  # fmt: skip


def _of_ladder(ladder: Ladder) -> Iterator[FigureRule]:
    for rung in ladder.rungs:
        yield FigureRule(
            key=f"odds-{ladder.code}-{rung.code}",
            name=f"{ladder.name}: {rung.name}",
            group="odds",
            note=_("The chance that it works where every gentler way has failed. Your own tries count more and more."),
            default=_plain(Decimal(str(rung.p))),
            origin=rung.origin,
            unit=_("share of tries"),
            high=Decimal(1),
            is_percent=True,
            section="ladders",
            code=ladder.code,
            field=f"rungs.{rung.code}.p",
        )


def _range(key: str, *, numbers: Iterable[Decimal | int], high: int, low: int = 0, **more: Any) -> FigureRule:
    words = [_plain(Decimal(one)) for one in numbers]
    return FigureRule(
        key=key, default=" ".join(words), shape=Shape.RANGE, parts=len(words), low=Decimal(low), high=Decimal(high),
        **more,
    )  # fmt: skip


def _of_setting(one: Setting) -> FigureRule:
    return FigureRule(
        key=one.code,
        name=one.name,
        group=one.group,
        note=one.note,
        default=_plain(one.value),
        origin=one.origin,
        shape=Shape.YES_NO if one.unit == "yes or no" else Shape.NUMBER,
        unit=one.unit,
        low=one.low,
        high=one.high,
        is_whole=one.is_whole,
        is_percent=one.is_percent,
        is_judged=one.is_judged,
        above=one.above,
        section="settings",
        code=one.code,
    )


def _of_interval(interval: CareInterval) -> Iterator[FigureRule]:
    uses = (
        ("months", _("%(care)s: lent out a lot", care=interval.name), MONTHS_LEAST),
        ("idle_months", _("%(care)s: mostly in storage", care=interval.name), 0),
    )
    for field, name, least in uses:
        yield FigureRule(
            key=f"care-{interval.code}-{field}",
            name=name,
            group="intervals",
            note=interval.why if least else _("%(why)s 0: not due in storage.", why=interval.why),
            default=str(getattr(interval, field)),
            origin=interval.origin,
            unit=_("months"),
            low=Decimal(least),
            high=Decimal(MONTHS_MOST),
            is_whole=True,
            is_judged=True,
            section="intervals",
            code=interval.code,
            field=field,
        )


def laid_over(rules: Mapping[str, FigureRule], values: Mapping[str, str]) -> Figures:
    """What the values put into the catalog, in one order; a key that the catalog has lost puts nothing."""
    return tuple(sorted(one for key, text in values.items() if key in rules for one in rules[key].laid(text)))


@lru_cache(maxsize=1)
def known_zones() -> frozenset[str]:
    """The time zones that a district may choose."""
    zones = {name for name in available_timezones() if name.split("/")[0] in REGIONS and "/" in name}
    return frozenset(zones | {name for name, _words in USUAL_ZONES} | {"UTC"})


def zone_words(name: str) -> str:
    """A time zone as people call it: "Central (Chicago)", "Berlin, Europe"."""
    usual = dict(USUAL_ZONES).get(name)
    place = name.rpartition("/")[2].replace("_", " ")
    if usual:
        return usual if usual == place else f"{usual} ({place})"
    region = name.split("/", maxsplit=1)[0]
    return place if region == name else f"{place}, {region}"


def zone_choices() -> list[tuple[str, Iterable[tuple[str, str]]]]:
    """The zones to choose from: the usual ones, then the others by name."""
    usual = [name for name, _words in USUAL_ZONES]
    others = sorted((zone_words(name), name) for name in known_zones() - set(usual))
    return [
        (_("United States"), [(name, zone_words(name)) for name in usual]),
        (_("Elsewhere"), [(name, words) for words, name in others]),
    ]


def _day(typed: str) -> str:
    month, _dash, day = typed.partition("-")
    try:
        found = date(A_COMMON_YEAR, int(month), int(day))
    except ValueError:
        raise FigureError(_("That month does not have that day.")) from None
    return f"{found.month:02}-{found.day:02}"


def _number(value: Decimal) -> int | float:
    return float(value) if value % 1 else int(value)


def _plain(value: Decimal) -> str:
    return f"{value.normalize():f}"
