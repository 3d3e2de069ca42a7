"""Instruments as they stood on a day: as their records say now, or as they were known on some other day.

What was known is replayed from the events, as ``verify`` replays them. A day counts as it ended, in the district's zone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Q, QuerySet
from django.utils import timezone

from core.models import Event
from core.revisions import kept_of
from core.traces import OPENING
from inventory.catalog.schema import Severity
from inventory.columns import VALUES
from inventory.models import Custody, Finding, Inspection, Instrument, School, Whereabouts
from inventory.models.inspections import Closed
from inventory.rules.facts import FindingFact
from inventory.rules.leaving import Way

AT_ONCE = 1000
FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2100, 12, 31)  # that may be asked about
LABEL = Instrument._meta.label_lower
# What is no record of its own, by the act that says so and the one that takes it back: never held.
MERGED, UNMERGED, ERROR, NO_ERROR = "merged", "unmerged", "registered_in_error", "error_withdrawn"
CLOSED, REOPENED = "findings_closed", "findings_reopened"
COLUMNS = (
    "pk", "asset_number", "kind_code", "level", "options", "year_made", "acquired_on", "acquisition_cost_amount",
    "replacement_amount", "school_id", "registered_at",
)  # fmt: skip
IN_EVENTS = frozenset(VALUES.values())


@dataclass(frozen=True, slots=True)
class AsOf:
    """A day, and the day by whose end everything was known that counts; None: as the records stand now."""

    on: date
    known_on: date | None = None

    @property
    def known_until(self) -> datetime | None:
        """The moment from which on nothing counts as known."""
        return None if self.known_on is None else after(self.known_on)

    @property
    def seen_until(self) -> datetime:
        """The moment until which findings stand: the end of the day, or of what was known if that comes first."""
        return after(self.on if self.known_on is None else min(self.on, self.known_on))


def after(day: date) -> datetime:
    """Return the moment at which a day is over."""
    return timezone.make_aware(datetime.combine(day + timedelta(days=1), time.min))


@dataclass(frozen=True, slots=True)
class History:
    """An instrument's record, and where it was from when on. It is held from ``begun_on`` on while it is not gone."""

    pk: int
    asset_number: str
    kind_code: str
    level: str
    options: Mapping[str, str]
    year_made: int | None
    acquired_on: date | None  # None: nobody knows; then it begins with the day it was registered
    cost: Decimal | None
    replacement: Decimal | None  # the figure given for it; None: none was
    priced_on: date  # the day that figure was given
    begun_on: date
    gone: tuple[tuple[date, date | None], ...]  # since, and until when it was back
    schools: tuple[tuple[date, int], ...]  # from when on at which; the first always
    school_now: int

    def is_held(self, day: date) -> bool:
        return self.begun_on <= day and self.gone_on(day) is None

    def gone_on(self, day: date) -> date | None:
        """Return since when it is gone on this day; None if it is not."""
        return next((since for since, until in self.gone if since <= day and (until is None or day < until)), None)

    def school_on(self, day: date) -> int:
        return next(school for since, school in reversed(self.schools) if since <= day)


def histories(as_of: AsOf, *, rows: QuerySet[Instrument] | None = None) -> Iterator[list[History]]:
    """Yield all there is, or these, by number and some at a time. Three queries each time.

    A record that was merged into another is not one of its own, and one entered in error is none.
    """
    rows = (Instrument.objects.all() if rows is None else rows).order_by("asset_number")
    if as_of.known_on is None:
        rows = rows.filter(merged_into=None, is_entered_in_error=False)
    last = ""
    while some := list(rows.filter(asset_number__gt=last).values(*COLUMNS)[:AT_ONCE]):
        last = some[-1]["asset_number"]
        keys = [row["pk"] for row in some]
        events, spans = _events(keys, as_of), _gone(keys, as_of)
        found = (_history(row, events[row["pk"]], tuple(spans[row["pk"]]), as_of=as_of) for row in some)
        yield [one for one in found if one is not None]


def ever_at(schools: Collection[int]) -> QuerySet[Instrument]:
    """Return what is or ever was at these schools. One query, two where anything left."""
    return Instrument.objects.filter(Q(school__in=schools) | Q(pk__in=moved_away(schools)))


def moved_away(schools: Collection[int]) -> list[int]:
    """Return the keys of what was at one of these schools and left it. One query, two where anything left."""
    if not School.objects.filter(pk__in=schools).exclude(instrument_left_at=None).exists():
        return []
    left = Event.objects.filter(subject_type=LABEL, act__in=kept_of(Instrument).corrects)
    keys = left.filter(before__school__in=list(schools)).values_list("subject_id", flat=True).order_by()
    return [int(key) for key in keys.distinct()]


LogEntry = tuple[str, date, dict[str, Any], dict[str, Any]]  # act, day, before and after


def _events(keys: Iterable[int], as_of: AsOf) -> Mapping[int, list[LogEntry]]:
    """Return what the log says of them: corrections, and with them everything where it is asked what was known."""
    kept = kept_of(Instrument)
    acts = {*kept.corrects}
    if as_of.known_on is not None:
        acts |= {*kept.begins, OPENING, MERGED, UNMERGED, ERROR, NO_ERROR}
    rows = Event.objects.filter(subject_type=LABEL, subject_id__in=[str(key) for key in keys], act__in=acts)
    found = defaultdict(list)
    for subject, act, at, *values in rows.order_by("number").values_list("subject_id", "act", "at", "before", "after"):
        found[int(subject)].append((act, timezone.localdate(at), *values))
    return found


def _gone(keys: Iterable[int], as_of: AsOf) -> Mapping[int, list[tuple[date, date | None]]]:
    """Return the spans in which they were gone; a record that was merged away was not gone for that.

    Known from the moment it was entered, it counts from the day on which it left.
    """
    rows = Custody.objects.filter(instrument__in=list(keys), whereabouts=Whereabouts.GONE)
    rows = rows.exclude(reference__startswith=f"{MERGED}:").exclude(disposal__way=Way.ERROR).order_by("since", "pk")
    known = as_of.known_until
    found = defaultdict(list)
    columns = ("instrument", "since", "until", "undone_at", "disposal__on", "disposal__back_on")
    for pk, since, until, undone, left_on, back_on in rows.values_list(*columns):
        if (undone and (known is None or undone < known)) or (known and since >= known):
            continue
        is_back = until is not None and (known is None or until < known)
        back = (back_on or timezone.localdate(until)) if is_back else None
        found[pk].append((left_on or timezone.localdate(since), back))
    return found


@dataclass(slots=True)
class _Replay:
    """What the events say of one instrument."""

    columns: dict[str, Any] = field(default_factory=dict)
    schools: list[tuple[date, int]] = field(default_factory=list)
    priced_on: date | None = None
    is_begun: bool = False
    is_void: bool = False  # merged into another record, or entered in error

    def follow(self, act: str, day: date, before: Mapping[str, Any], values: Mapping[str, Any]) -> None:
        if act in {MERGED, UNMERGED, ERROR, NO_ERROR}:
            self.is_void = act in {MERGED, ERROR}
            return
        known = {name: value for name, value in values.items() if name in IN_EVENTS}
        if act in kept_of(Instrument).corrects:
            if not self.schools and before.get("school"):
                self.schools.append((date.min, before["school"]))
            if known.get("replacement_amount"):
                self.priced_on = day
        else:
            self.columns, self.is_begun = {}, True
        self.columns |= known
        if (school := known.get("school")) and (not self.schools or self.schools[-1][1] != school):
            self.schools.append((day if self.schools else date.min, school))

    def fill_in(self, values: Mapping[str, Any]) -> None:
        """Take over what an opening event says: earlier events of that time did not say all of a row."""
        self.columns = {name: value for name, value in values.items() if name in IN_EVENTS} | self.columns
        self.is_begun = True
        if not self.schools and "school" in self.columns:
            self.schools.append((date.min, self.columns["school"]))


def _history(
    row: Mapping[str, Any],
    events: Iterable[LogEntry],
    gone: tuple[tuple[date, date | None], ...],
    *,
    as_of: AsOf,
) -> History | None:
    """Return None where nothing was known of it."""
    replay, registered_on = _Replay(), timezone.localdate(row["registered_at"])
    for act, day, before, values in events:
        if as_of.known_on is None or day <= as_of.known_on:
            replay.follow(act, day, before, values)
        elif act == OPENING and registered_on <= as_of.known_on:
            replay.fill_in(values)
    columns = dict(row)
    if as_of.known_on is not None:
        if replay.is_void or not replay.is_begun:
            return None
        columns |= _as_columns(replay.columns)
    if not replay.schools or replay.schools[-1][1] != columns["school_id"]:
        replay.schools = [(date.min, columns["school_id"])]  # no event says how it came there
    return History(
        pk=row["pk"],
        asset_number=columns["asset_number"],
        kind_code=columns["kind_code"],
        level=columns["level"],
        options=columns["options"],
        year_made=columns["year_made"],
        acquired_on=columns["acquired_on"],
        cost=columns["acquisition_cost_amount"],
        replacement=columns["replacement_amount"],
        priced_on=replay.priced_on or registered_on,
        begun_on=columns["acquired_on"] or registered_on,
        gone=gone,
        schools=tuple(replay.schools),
        school_now=row["school_id"],
    )


def _as_columns(values: Mapping[str, Any]) -> dict[str, Any]:
    """What events hold, as a row holds it."""

    def amount(name: str) -> Decimal | None:
        return None if values.get(name) is None else Decimal(values[name])

    acquired = values.get("acquired_on")
    return {
        "asset_number": values["asset_number"],
        "kind_code": values["kind"],
        "level": values["level"],
        "options": values.get("options") or {},
        "year_made": values.get("year_made"),
        "acquired_on": date.fromisoformat(acquired) if acquired else None,
        "acquisition_cost_amount": amount("acquisition_cost_amount"),
        "replacement_amount": amount("replacement_amount"),
        "school_id": values["school"],
    }


def findings_on(as_of: AsOf, *, keys: Collection[int]) -> Mapping[int, tuple[FindingFact, ...]]:
    """Return what stood at these instruments at the end of the day, in one order. One query, two of what was known.

    What was entered in error never stood, once that is known.
    """
    stood = Q(closed_at=None) | (Q(closed_at__gte=as_of.seen_until) & ~Q(closed_because=Closed.WITHDRAWN))
    if as_of.known_until is not None:
        stood |= Q(closed_at__gte=as_of.known_until)
    rows = Finding.objects.filter(stood, instrument__in=list(keys), inspection__finished_at__lt=as_of.seen_until)
    was_closed = _closed_then(as_of, keys=keys)
    found: dict[int, set[FindingFact]] = defaultdict(set)
    columns = ("pk", "instrument", "part", "place", "fault", "severity", "detail")
    for key, pk, part, place, fault, severity, detail in rows.order_by().values_list(*columns):
        if key not in was_closed:
            fact = FindingFact(part=part, place=place, fault=fault, severity=Severity(severity), detail=detail)
            found[pk].add(fact)
    return {pk: tuple(sorted(facts, key=_spot)) for pk, facts in found.items()}


def _closed_then(as_of: AsOf, *, keys: Collection[int]) -> set[int]:
    """Return the findings that were closed by the end of the day and only reopened after what was known."""
    if as_of.known_until is None:
        return set()
    events = Event.objects.filter(
        subject_type=LABEL, subject_id__in=[str(key) for key in keys], act__in=(CLOSED, REOPENED)
    ).order_by("number")
    closed_at: dict[int, datetime] = {}
    reopened: set[int] = set()
    for act, at, values in events.values_list("act", "at", "after"):
        findings = values.get("findings", ())
        if at >= as_of.known_until:
            reopened.update(findings if act == REOPENED else ())
        elif act == CLOSED:
            closed_at |= dict.fromkeys(findings, at)
        else:
            closed_at = {key: at for key, at in closed_at.items() if key not in findings}
    return {key for key in reopened if key in closed_at and closed_at[key] < as_of.seen_until}


def _spot(fact: FindingFact) -> tuple[str, ...]:
    return (fact.part, fact.place, fact.fault, str(fact.severity), fact.detail)


def inspected_on(as_of: AsOf, *, keys: Collection[int]) -> set[int]:
    """Return those of these instruments that had been inspected by the end of the day. One query."""
    rows = Inspection.objects.filter(instrument__in=list(keys), finished_at__lt=as_of.seen_until)
    return set(rows.order_by().values_list("instrument", flat=True).distinct())
