"""The figures in force: what the district set, over the catalog's defaults, on a day."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, tzinfo
from functools import lru_cache
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import DatabaseError
from django.utils import timezone

from core.models import Event, Revision
from inventory.catalog.figures import TIME_ZONE, FigureRule, figure_rules, laid_over
from inventory.catalog.load import Figures, catalog_under, put_in_force, shipped_catalog
from inventory.catalog.schema import Catalog
from inventory.models import District, Figure

REASON = "reason"  # what the event calls why a value was set

Rows = tuple[tuple[str, str, date], ...]  # key, value, from which day on; the later of two for one day comes last


@dataclass(frozen=True, slots=True)
class InForce:
    """The district's figures on a day."""

    day: date
    values: Mapping[str, str]
    zone: ZoneInfo
    laid: Figures
    judged_by: str  # of those that stored verdicts, readiness or days of care depend on; "" when none is set
    mark: str  # of everything that was ever set


@dataclass(eq=False)
class Entry:
    """A moment that something begins at, and what is in force then: asked for once, when it is first needed."""

    at: datetime
    before: InForce | None  # what held in this thread until then
    zone: tzinfo = field(init=False)
    _found: InForce | None = None

    def __post_init__(self) -> None:
        self.zone = Zone(self)

    @property
    def last(self) -> InForce | None:
        return self._found or self.before

    def held(self) -> InForce:
        """What is in force. When the database does not answer, what held before: whoever asks for more will say so."""
        if self._found is None:
            try:
                self._found = in_force(at=self.at)
            except DatabaseError:
                day = timezone.localdate(self.at, ZoneInfo(settings.TIME_ZONE))
                self._found = self.before or _on("", day)
            if timezone.get_current_timezone() is self.zone:
                timezone.activate(self._found.zone)
        return self._found


class Zone(tzinfo):
    """The district's time zone, asked for when a time is first told. Times are told in the zone itself."""

    def __init__(self, entry: Entry) -> None:
        self._entry = entry

    @property
    def itself(self) -> ZoneInfo:
        return self._entry.held().zone

    def utcoffset(self, dt: datetime | None) -> timedelta | None:
        return self.itself.utcoffset(dt)

    def dst(self, dt: datetime | None) -> timedelta | None:
        return self.itself.dst(dt)

    def tzname(self, dt: datetime | None) -> str | None:
        return self.itself.tzname(dt)

    def fromutc(self, dt: datetime) -> datetime:
        return self.itself.fromutc(dt.replace(tzinfo=self.itself))

    def __str__(self) -> str:
        return self.itself.key

    def __reduce__(self) -> tuple[type[ZoneInfo], tuple[str]]:
        return ZoneInfo, (self.itself.key,)


_now: ContextVar[Entry | None] = ContextVar("in_force", default=None)


def rules() -> Mapping[str, FigureRule]:
    """Every figure that may be set, by its key."""
    return figure_rules(shipped_catalog(), time_zone=settings.TIME_ZONE)


def enter(at: datetime) -> None:
    """Put in force what holds at this moment, for a request, a command or a task.

    The database is asked when a figure or a time is first needed, which a file or an answer in JSON may never do: one
    query, two after a change.
    """
    before = _now.get()
    entry = Entry(at, before=before.last if before else None)
    _now.set(entry)
    put_in_force(lambda: entry.held().laid)
    timezone.activate(entry.zone)


def leave() -> None:
    """Take everything out of force: tests begin with the catalog's own."""
    _now.set(None)
    put_in_force(tuple)
    timezone.deactivate()
    _rows.cache_clear()
    _on.cache_clear()


def entered() -> tuple[Figures, str] | None:
    """What sums kept in the process depend on besides their rows: other figures, or another zone, are other sums."""
    entry = _now.get()
    return None if entry is None else (entry.held().laid, entry.held().zone.key)


def value_on(key: str, day: date) -> str:
    """The value of a figure on some other day, by what has been set until now."""
    entry = _now.get()
    values = values_on(_rows(entry.held().mark), day) if entry else {}
    return values.get(key) or rules()[key].default


def in_force(*, at: datetime) -> InForce:
    """The figures at a moment, by the day it is in the district: never one before the day that its time zone began."""
    mark = District.objects.filter(pk=1).values_list("figures_mark", flat=True).first() or ""
    zone, began_on = zone_at(mark, at)
    return _on(mark, max(timezone.localdate(at, zone), began_on))


def zone_at(mark: str, at: datetime) -> tuple[ZoneInfo, date]:
    """The time zone at a moment, and from which day on it holds.

    A zone begins with its day in the zone before it, so that one set "from today" holds at once, even where its own day is
    still yesterday.
    """
    zone, began_on = ZoneInfo(settings.TIME_ZONE), date.min
    zones = {effective_on: value for key, value, effective_on in _rows(mark) if key == TIME_ZONE}
    for effective_on, value in zones.items():  # by day
        if effective_on <= timezone.localdate(at, zone):
            zone, began_on = ZoneInfo(value or settings.TIME_ZONE), effective_on
    return zone, began_on


def values_on(rows: Rows, day: date) -> dict[str, str]:
    """What holds on a day: of each figure the newest value that has begun, unless it was given back to the catalog."""
    found = {key: value for key, value, effective_on in rows if effective_on <= day}
    return {key: value for key, value in found.items() if value}


def every_value() -> Rows:
    """Every value that was set, read afresh. One query."""
    return tuple(Figure.objects.order_by("effective_on", "pk").values_list("key", "value", "effective_on"))


@lru_cache(maxsize=8)
def _rows(mark: str) -> Rows:
    """The same, remembered by the mark of everything that was ever set: the same mark, the same rows."""
    return every_value() if mark else ()


@lru_cache(maxsize=16)
def _on(mark: str, day: date) -> InForce:
    known, values = rules(), values_on(_rows(mark), day)
    judged = sorted((key, value) for key, value in values.items() if key in known and known[key].is_judged)
    return InForce(
        day=day,
        values=values,
        zone=ZoneInfo(values.get(TIME_ZONE, settings.TIME_ZONE)),
        laid=laid_over(known, values),
        judged_by=hashlib.sha256(repr(judged).encode()).hexdigest() if judged else "",
        mark=mark,
    )


def next_mark(mark: str, *, key: str, value: str, effective_on: date) -> str:
    """The mark after one more value: it follows from everything that was set, so no two histories share one."""
    return hashlib.sha256(f"{mark}\n{key}\n{value}\n{effective_on.isoformat()}".encode()).hexdigest()


def is_recompute_due(*, at: datetime) -> bool:
    """Whether stored verdicts, readiness and days of care still follow figures that no longer hold. Two queries."""
    kept = District.objects.filter(pk=1).values_list("reckoned_with", flat=True).first() or ""
    return in_force(at=at).judged_by != kept


def waits_now() -> bool:
    """The same for who has entered already. One query."""
    entry = _now.get()
    kept = District.objects.filter(pk=1).values_list("reckoned_with", flat=True).first()
    return entry is not None and kept is not None and entry.held().judged_by != kept


def catalog_on(day: date, *, known_until: datetime | None = None) -> Catalog:
    """Return the catalog with the figures of a day, by what had been set before a moment; None: until now. One query."""
    rows = Figure.objects.order_by("effective_on", "pk")
    rows = rows if known_until is None else rows.filter(set_at__lt=known_until)
    values = values_on(tuple(rows.values_list("key", "value", "effective_on")), day)
    return catalog_under(laid_over(rules(), values))


def newest(key: str) -> list[Figure]:
    """Every value that was set for a figure, with who set it, the newest day first. One query."""
    return list(Figure.objects.filter(key=key).select_related("set_by").order_by("-effective_on", "-pk"))


def reasons_of(rows: Sequence[Figure]) -> dict[int, str]:
    """Why each of these values was set, as far as it was said. Two queries."""
    about = Event.objects.filter(
        act="figure_set", subject_type=Figure._meta.label_lower, subject_id__in=[str(row.pk) for row in rows]
    )
    subjects = {event.number: int(event.subject_id) for event in about}
    texts = Revision.objects.filter(number__in=subjects, column=REASON)
    return {subjects[text.number]: text.after for text in texts}


def set_on(keys: Mapping[str, str], *, day: date) -> dict[str, Figure]:
    """The row that each of these values in force was set by. One query."""
    rows = Figure.objects.filter(key__in=list(keys), effective_on__lte=day).order_by("effective_on", "pk")
    return {row.key: row for row in rows}


def to_come(*, day: date, values: Mapping[str, str]) -> dict[str, Figure]:
    """Of each figure the next other value after ``values``, which hold on the day. One query."""
    rows = Figure.objects.filter(effective_on__gt=day).order_by("effective_on", "pk")
    last = {(row.key, row.effective_on): row for row in rows}  # the later of two for one day counts
    found: dict[str, Figure] = {}
    for row in last.values():
        if row.value != values.get(row.key, ""):
            found.setdefault(row.key, row)
    return found
