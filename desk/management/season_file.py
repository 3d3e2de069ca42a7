"""A season as it is written in a JSON file, read strictly: every error names the line and what is expected."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date, timedelta
from decimal import Decimal, InvalidOperation
from typing import NoReturn

from desk.rules.season_plan.facts import (
    ALL_BENCHES,
    NOTHING,
    Action,
    Budgets,
    Candidate,
    Goal,
    Option,
    Purchase,
    Season,
    Seats,
)

SHAPE = """FILE holds one JSON object:
{
  "start": "2027-06-10",            the day lead_days count from; required with them
  "goal": "priority",               seats of priority 1 first, then 2, ... (default), or "most": the most seats in all
  "seats": [
    {"id": "wind-trumpet", "kind": "trumpet", "count": 6, "school": "", "size": "", "level": "concert",
     "priority": 1, "weight": 1, "needed_by": "2027-08-20"}
  ],
  "candidates": [
    {"id": "TR-0001", "kind": "trumpet", "school": "", "size": "", "ready": true, "levels": ["first_year"],
     "options": [
       {"do": "repair", "bench": "main", "hours": 2.5, "parts": "12.00", "ready_on": "2027-07-01"},
       {"do": "send_out", "price": "180.00", "lead_days": 21, "levels": ["first_year", "concert"]}
     ]}
  ],
  "purchases": [{"id": "new-trumpet", "kind": "trumpet", "price": "900.00", "limit": 2, "lead_days": 45}],
  "budgets": {"bench_hours": 40, "repair_money": "500.00", "shop_money": "800.00", "purchase_money": "0.00"}
}
Required: kind of seats; id and kind of candidates; do of options; kind and price of purchases. Defaults: count,
priority and weight 1; "ready" false; hours and money of an option 0; no budget, limit, date or levels: no limit; no
school, size or level: any. "levels" are those whose seats the instrument is good enough for.
An option uses hours at its bench, parts from repair_money, price from shop_money. bench_hours is one number for all
benches together, or {"main": 30, "annex": 10}. Each instrument fills one seat. Money is dollars and hours are hours,
to two places, as a number or a string. Seats come first (within a priority, the largest sum of weights), then the
lowest cost."""

MOST = Decimal(10_000_000)
MOST_COUNT = 100_000
PLACES = 2


class SeasonFileError(ValueError):
    """Something in it cannot be read; the message says what and where."""


def read_season(content: object) -> Season:
    """Return the season in a parsed file, its numbers as int or Decimal; SeasonFileError if it is wrong."""
    whole = _Line("the file", content, known={"start", "goal", "seats", "candidates", "purchases", "budgets"})
    start = whole.day("start")
    seats = tuple(_seats(one, number=number) for number, one in enumerate(whole.lines("seats"), start=1))
    if not seats:
        raise SeasonFileError("the file: seats must be a list of at least one")
    candidates = tuple(_candidate(one, number, start=start) for number, one in enumerate(whole.lines("candidates"), 1))
    purchases = tuple(_purchase(one, number, start=start) for number, one in enumerate(whole.lines("purchases"), 1))
    _refuse_twice("seats", [one.key for one in seats])
    _refuse_twice("candidates and purchases", [one.key for one in candidates] + [one.key for one in purchases])
    goal = whole.text("goal") or Goal.PRIORITY.value
    if goal not in set(Goal):
        whole.refuse("goal", f"must be one of {', '.join(Goal)}")
    budgets = _budgets(whole.fields.get("budgets"))
    season = Season(seats, candidates, purchases, budgets, Goal(goal))
    refuse_unknown_benches(season)
    return season


def refuse_unknown_benches(season: Season) -> None:
    """SeasonFileError where hours are given by bench and an option is at a bench that has none."""
    if not isinstance(season.budgets.bench_hours, Mapping):
        return
    for one in season.candidates:
        for option in one.options:
            if option.hours and option.bench not in season.budgets.bench_hours:
                raise SeasonFileError(
                    f"candidate {one.key!r}: bench {option.bench!r} is not among the bench_hours of the budgets"
                )


def amount_of(raw: object) -> Decimal:
    """Read dollars or hours: 0 or more, to two places; ValueError with what is expected."""
    is_number = isinstance(raw, int | str | Decimal) and not isinstance(raw, bool)
    try:
        value = Decimal(str(raw) if is_number else "")
    except InvalidOperation:
        raise ValueError("must be a number") from None
    if not value.is_finite() or not 0 <= value <= MOST:
        raise ValueError(f"must be a number from 0 to {MOST:,}")
    if value != value.quantize(Decimal(1).scaleb(-PLACES)):
        raise ValueError("must have at most two places")
    return value


def _seats(raw: object, *, number: int) -> Seats:
    line = _Line(
        f"seats {number}", raw,
        known={"id", "kind", "count", "school", "size", "level", "priority", "weight", "needed_by"},
    )  # fmt: skip
    return Seats(
        key=line.text("id") or f"seats {number}",
        kind=line.needed("kind"),
        count=line.whole("count", least=0) if "count" in line.fields else 1,
        school=line.text("school"),
        size=line.text("size"),
        level=line.text("level"),
        priority=line.whole("priority", least=1) if "priority" in line.fields else 1,
        weight=line.weight("weight"),
        needed_by=line.day("needed_by"),
    )


def _candidate(raw: object, number: int, *, start: date | None) -> Candidate:
    line = _Line(
        f"candidate {number}", raw, known={"id", "kind", "school", "size", "ready", "levels", "options"}
    )  # fmt: skip
    key = line.needed("id")
    line.name = f"candidate {key!r}"
    options = enumerate(line.lines("options"), start=1)
    return Candidate(
        key=key,
        kind=line.needed("kind"),
        school=line.text("school"),
        size=line.text("size"),
        is_ready=line.flag("ready"),
        levels=line.levels(),
        options=tuple(_option(one, name=f"{line.name}, option {place}", start=start) for place, one in options),
    )


def _option(raw: object, *, name: str, start: date | None) -> Option:
    line = _Line(name, raw, known={"do", "bench", "hours", "parts", "price", "ready_on", "lead_days", "levels"})
    action = line.needed("do")
    if action not in {Action.REPAIR, Action.SEND_OUT}:
        line.refuse("do", "must be repair or send_out")
    return Option(
        action=Action(action),
        bench=line.text("bench") or ALL_BENCHES,
        hours=line.amount("hours"),
        parts_amount=line.amount("parts"),
        shop_amount=line.amount("price"),
        ready_on=line.ready_on(start),
        levels=line.levels(),
    )


def _purchase(raw: object, number: int, *, start: date | None) -> Purchase:
    known = {"id", "kind", "price", "limit", "school", "size", "levels", "ready_on", "lead_days"}
    line = _Line(f"purchase {number}", raw, known=known)
    kind = line.needed("kind")
    if "price" not in line.fields:
        line.refuse("price", "is missing")
    return Purchase(
        key=line.text("id") or f"buy {kind}",
        kind=kind,
        price_amount=line.amount("price"),
        limit=line.whole("limit", least=0) if line.fields.get("limit") is not None else None,
        school=line.text("school"),
        size=line.text("size"),
        levels=line.levels(),
        ready_on=line.ready_on(start),
    )


def _budgets(raw: object) -> Budgets:
    known = {"bench_hours", "repair_money", "shop_money", "purchase_money"}
    line = _Line("budgets", {} if raw is None else raw, known=known)
    hours = line.fields.get("bench_hours")
    if isinstance(hours, dict):
        by_bench = _Line("budgets: bench_hours", hours, known=set(hours))
        return Budgets({bench: by_bench.amount(bench) for bench in hours}, *_money(line))
    return Budgets(None if hours is None else line.amount("bench_hours"), *_money(line))


def _money(line: _Line) -> tuple[Decimal | None, ...]:
    names = ("repair_money", "shop_money", "purchase_money")
    return tuple(None if line.fields.get(name) is None else line.amount(name) for name in names)


def _refuse_twice(name: str, keys: list[str]) -> None:
    seen: set[str] = set()
    for key in keys:
        if key in seen:
            raise SeasonFileError(f"{name}: the id {key!r} is given twice")
        seen.add(key)


class _Line:
    """One object of the file, and its name in error messages."""

    def __init__(self, name: str, raw: object, *, known: Collection[str]) -> None:
        self.name = name
        if not isinstance(raw, dict):
            raise SeasonFileError(f"{name}: must be an object in braces")
        self.fields: dict[str, object] = raw
        unknown = sorted(set(raw) - set(known))
        if unknown:
            raise SeasonFileError(f"{name}: {', '.join(unknown)} is not known; expected {', '.join(sorted(known))}")

    def refuse(self, key: str, words: str) -> NoReturn:
        raise SeasonFileError(f"{self.name}: {key} {words}")

    def lines(self, key: str) -> list[object]:
        value = self.fields.get(key, [])
        if not isinstance(value, list):
            self.refuse(key, "must be a list")
        return value

    def text(self, key: str) -> str:
        value = self.fields.get(key)
        if value is None:
            return ""
        if not isinstance(value, str):
            self.refuse(key, "must be a string")
        return value

    def needed(self, key: str) -> str:
        value = self.text(key)
        if not value:
            self.refuse(key, "is missing")
        return value

    def flag(self, key: str) -> bool:
        value = self.fields.get(key, False)
        if not isinstance(value, bool):
            self.refuse(key, "must be true or false")
        return value

    def whole(self, key: str, *, least: int) -> int:
        value = self.fields.get(key)
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= MOST_COUNT:
            self.refuse(key, f"must be a whole number from {least} to {MOST_COUNT:,}")
        return value

    def amount(self, key: str) -> Decimal:
        try:
            return amount_of(self.fields.get(key, NOTHING))
        except ValueError as error:
            self.refuse(key, str(error))

    def weight(self, key: str) -> Decimal:
        weight = self.amount(key) if key in self.fields else Decimal(1)
        if not weight:
            self.refuse(key, "must be above 0")
        return weight

    def day(self, key: str) -> date | None:
        value = self.text(key)
        try:
            return date.fromisoformat(value) if value else None
        except ValueError:
            self.refuse(key, "must be a date such as 2027-08-20")

    def ready_on(self, start: date | None) -> date | None:
        """Return the day it is there: said, or so many days after the start."""
        if self.fields.get("lead_days") is None:
            return self.day("ready_on")
        if self.fields.get("ready_on") is not None:
            self.refuse("lead_days", "and ready_on cannot both be given")
        if start is None:
            self.refuse("lead_days", 'need a "start" in the file, the day that they count from')
        days = self.whole("lead_days", least=0)
        try:
            return start + timedelta(days=days)
        except OverflowError:
            self.refuse("lead_days", "run past the last year a date can have")

    def levels(self) -> frozenset[str] | None:
        value = self.fields.get("levels")
        if value is None:
            return None
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            self.refuse("levels", "must be a list of strings")
        return frozenset(map(str, value))
