"""Physical counts: what is expected, how far each is, what differs, and when schools are due."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count as CountOf
from django.db.models import Exists, Max, OuterRef, QuerySet, Subquery
from django.utils.timezone import localdate

from inventory.catalog.load import catalog
from inventory.models import (
    Count,
    CountLine,
    Custody,
    Instrument,
    InstrumentQuerySet,
    Room,
    School,
    Sighting,
    SightingQuerySet,
    Whereabouts,
    schools_of,
)
from inventory.rules.counting import REASONS, Due, Outcome, Reason, next_count, outcome_unseen

HERE = (Outcome.FOUND, Outcome.OTHER_ROOM)  # what was expected in storage, and was seen
LOAN = "loan:"  # how the reference of a custody begins that a loan brought about


def instruments_to_count(*, school: School, rooms: Collection[Room] = ()) -> InstrumentQuerySet:
    """What the register has at the school, or in these rooms of it: wherever it is now, but for what is gone."""
    rows = Instrument.objects.filter(school=school).present()
    return rows.filter(room__in=rooms) if rooms else rows


def sightings_of(count: Count) -> SightingQuerySet:
    return Sighting.objects.standing().filter(count=count)


def unseen_lines(count: Count) -> QuerySet[CountLine]:
    """The lines whose instruments nobody has seen in this count."""
    seen = Sighting.objects.standing().filter(count=OuterRef("count"), instrument=OuterRef("instrument"))
    return CountLine.objects.filter(~Exists(seen), count=count)


@dataclass(frozen=True, slots=True)
class Seen:
    """A sighting, and whether it is a new one: what was seen before is said, and stays one sighting."""

    sighting: Sighting
    is_new: bool


@dataclass(frozen=True, slots=True)
class RoomProgress:
    """How many of those expected in a room have been seen, there or elsewhere. Without a room: those that have none."""

    room: Room | None
    expected: int
    seen: int


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a count is. ``seen`` are the sightings by what each means."""

    expected: int
    seen: Counter[Outcome]
    unseen: int  # of those expected in storage

    @property
    def expected_seen(self) -> int:
        return self.expected - self.unseen

    @property
    def sightings(self) -> int:
        return self.seen.total()


def progress_of(count: Count) -> Progress:
    """Two queries."""
    rows = sightings_of(count).order_by().values_list("outcome").annotate(n=CountOf("pk"))
    seen = Counter({Outcome(outcome): n for outcome, n in rows})
    unseen = unseen_lines(count).filter(whereabouts=Whereabouts.IN_STORE).count()
    return Progress(count.expected, seen, unseen)


def rooms_of(count: Count) -> list[RoomProgress]:
    """How far each room is, by name. Three queries."""
    in_store = CountLine.objects.filter(count=count, whereabouts=Whereabouts.IN_STORE).order_by()
    expected = dict(in_store.values_list("room").annotate(n=CountOf("pk")))
    unseen = unseen_lines(count).filter(whereabouts=Whereabouts.IN_STORE).order_by()
    left = dict(unseen.values_list("room").annotate(n=CountOf("pk")))
    rooms = Room.objects.in_bulk([key for key in expected if key])
    lines = [RoomProgress(rooms.get(key), n, n - left.get(key, 0)) for key, n in expected.items()]
    return sorted(lines, key=lambda line: (line.room is None, line.room.name if line.room else ""))


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing to settle: a line that nobody saw, or a sighting that the register contradicts."""

    key: str  # "line:5", "sighting:7"
    outcome: Outcome
    reasons: tuple[Reason, ...]
    instrument: Instrument | None
    line: CountLine | None = None
    sighting: Sighting | None = None

    @property
    def number(self) -> str:
        """Its asset number, or what was scanned."""
        if self.instrument is not None:
            return self.instrument.asset_number
        return self.sighting.text if self.sighting else ""


def differences_of(count: Count) -> list[Difference]:
    """What is to be settled before the count is signed: not found first, then what was found elsewhere. Four queries."""
    found = [
        Difference(f"line:{line.pk}", Outcome.NOT_FOUND, REASONS[Outcome.NOT_FOUND], line.instrument, line=line)
        for line, outcome in unseen_outcomes(count)
        if outcome is Outcome.NOT_FOUND
    ]
    sightings = (
        sightings_of(count)
        .filter(outcome__in=[outcome for outcome in REASONS if outcome is not Outcome.NOT_FOUND])
        .select_related("count", "instrument__school", "instrument__room", "room", "actor")
        .order_by("outcome", "instrument__asset_number", "pk")
    )
    rows = list(sightings)
    lent = lost_on_loan(row.instrument_id for row in rows if row.outcome == Outcome.FOUND_AGAIN)
    for row in rows:
        reasons = REASONS[Outcome(row.outcome)]
        if row.outcome == Outcome.FOUND_AGAIN:
            reasons = (Reason.LOAN_TO_SETTLE,) if row.instrument_id in lent else (Reason.BACK,)
        found.append(Difference(f"sighting:{row.pk}", Outcome(row.outcome), reasons, row.instrument, sighting=row))
    return found


def unseen_outcomes(count: Count) -> list[tuple[CountLine, Outcome]]:
    """The lines that nobody saw, by number, each with what that means. One query."""
    lines = unseen_lines(count).select_related("instrument", "instrument__school", "room")
    found = []
    for line in lines.order_by("instrument__asset_number"):
        row = line.instrument
        is_there = row.whereabouts == Whereabouts.IN_STORE and row.school_id == count.school_id
        found.append((line, outcome_unseen(expected_at=line.whereabouts, is_still_there=is_there)))
    return found


def lost_on_loan(instruments: Iterable[int | None]) -> set[int]:
    """Those recorded as not found while they were lent: their loan is settled by itself."""
    keys = [key for key in instruments if key]
    open_spans = Custody.objects.filter(instrument__in=keys, until=None, reference__startswith=LOAN) if keys else None
    return set(open_spans.values_list("instrument_id", flat=True)) if open_spans is not None else set()


@dataclass(frozen=True, slots=True)
class SchoolDue:
    """A school with what it holds, its count under way, and when the next is due."""

    school: School
    last: date | None
    due: Due
    open_count: Count | None


def count_dues(user: Any, *, today: date) -> list[SchoolDue]:
    """When each school that the user sees is to be counted. One query, a second where a count is under way."""
    mine = Count.objects.filter(school=OuterRef("pk")).order_by()
    whole = mine.signed().filter(is_whole=True).values("school").annotate(at=Max("counted_at")).values("at")
    rows: Any = schools_of(user, "inventory.view_count").annotate(
        counted_at=Subquery(whole), open_count=Subquery(mine.open().values("pk")[:1])
    )
    schools = list(rows)
    keys = [school.open_count for school in schools if school.open_count]
    under_way = Count.objects.for_table().in_bulk(keys) if keys else {}
    settings = catalog().settings
    lines = []
    for school in schools:
        day = localdate(school.counted_at) if school.counted_at else None
        due = next_count(
            last=day,
            months=int(settings["count_every_months"]),
            notice_days=int(settings["count_notice_days"]),
            today=today,
        )
        lines.append(SchoolDue(school, day, due, under_way.get(school.open_count)))
    return lines


def latest_sightings(count: Count, *, most: int) -> list[Sighting]:
    """The latest sightings of a count. One query."""
    rows = sightings_of(count).select_related("instrument__school", "instrument__room", "room", "actor")
    return list(rows.order_by("-seen_at", "-pk")[:most])
