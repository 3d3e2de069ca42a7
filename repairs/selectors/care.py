"""What care is due, by school and kind, and a day on which a whole class set gets it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Max, Q
from django.utils import timezone

from inventory.catalog.load import catalog
from inventory.catalog.schema import CareInterval, Kind
from inventory.models import Custody, Instrument, InstrumentQuerySet, School, Whereabouts
from repairs.models import Attempt, CareDone, Outcome
from repairs.rules.care import CareDue, CareFacts, TogetherMinutes, care_due, together_minutes
from repairs.rules.words import duration

YEAR = timedelta(days=365)
SOON_DAYS = 30
FIRST_SETS = 12  # shown before the fold; the template says the same number


def much_days() -> int:
    return int(catalog().settings["care_much_days"])


def cared_for(user: Any) -> InstrumentQuerySet:
    """Instruments that somebody could care for: held, found, and not kept for parts."""
    rows = Instrument.objects.visible_to(user, "repairs.view_care").filter(is_parts_horn=False)
    return rows.exclude(whereabouts__in=[Whereabouts.GONE, Whereabouts.NOT_FOUND])


def care_facts(rows: Sequence[Instrument], *, now: datetime) -> list[CareFacts]:
    """Return what the rule of care needs of each instrument. Three queries, however many."""
    keys = [row.pk for row in rows]
    done: dict[int, dict[str, date]] = defaultdict(dict)
    recorded = CareDone.objects.standing().filter(instrument__in=keys)
    for pk, code, day in recorded.values_list("instrument_id", "code").annotate(last=Max("done_on")).order_by():
        done[pk][code] = day
    by_method: dict[str, list[str]] = defaultdict(list)
    for interval in catalog().intervals.values():
        if interval.method:
            by_method[interval.method].append(interval.code)
    tried = Attempt.objects.filter(
        job__instrument__in=keys, method__in=list(by_method), outcome__in=[Outcome.DONE, Outcome.FREED]
    )
    rows_done = tried.values_list("job__instrument_id", "method").annotate(last=Max("ended_at")).order_by()
    for pk, method, moment in rows_done:
        day = timezone.localdate(moment)
        for code in by_method[method]:
            done[pk][code] = max(day, done[pk].get(code, day))
    out = _days_out(keys, now=now)
    return [
        CareFacts(
            key=str(row.pk),
            kind=row.kind,
            registered_on=timezone.localdate(row.registered_at),
            options=row.options,
            days_out=out.get(row.pk, 0),
            done=done[row.pk],
        )
        for row in rows
    ]


def _days_out(keys: Iterable[int], *, now: datetime) -> dict[int, int]:
    """Return the days each was with a student within the last year. One query."""
    begin = now - YEAR
    spans = Custody.objects.filter(instrument__in=keys, whereabouts=Whereabouts.WITH_STUDENT, since__lt=now).filter(
        Q(until=None) | Q(until__gt=begin)
    )
    seconds: dict[int, float] = defaultdict(float)
    for pk, since, until in spans.values_list("instrument_id", "since", "until").order_by():
        seconds[pk] += (min(until or now, now) - max(since, begin)).total_seconds()
    return {pk: int(total // 86_400) for pk, total in seconds.items()}


@dataclass(frozen=True, slots=True)
class SetLine:
    """One piece of care that is due on several horns of a class set."""

    interval: CareInterval
    count: int
    oldest_on: date
    minutes: TogetherMinutes

    @property
    def together(self) -> str:
        return duration(self.minutes.together)


@dataclass(frozen=True, slots=True)
class CareSet:
    """All horns of a kind at a school, with what is due on them."""

    school: School
    kind: Kind
    horns: int
    horns_due: int
    lines: tuple[SetLine, ...]
    soon: int  # pieces of care due within SOON_DAYS
    days_over: int  # of what is due longest

    @property
    def together(self) -> str:
        return duration(sum(line.minutes.together for line in self.lines))

    @property
    def others(self) -> int:
        """How many kinds of work are due beside the first two."""
        return len(self.lines) - 2


@dataclass(frozen=True, slots=True)
class CareOverview:
    sets: tuple[CareSet, ...]  # with something due, the longest overdue first
    fine: int  # horns with nothing due
    horns: int

    @property
    def due(self) -> int:
        return sum(one.horns_due for one in self.sets)

    @property
    def more(self) -> int:
        return len(self.sets) - FIRST_SETS


def care_overview(rows: Sequence[Instrument], *, now: datetime) -> CareOverview:
    """Return the class sets with care due. Three queries beyond the rows; schools come with them."""
    today = timezone.localdate(now)
    groups: dict[tuple[int, str], list[Instrument]] = defaultdict(list)
    for row in rows:
        groups[row.school_id, row.kind_code].append(row)
    dues: dict[str, tuple[CareDue, ...]] = {
        facts.key: care_due(facts, catalog=catalog(), much_days=much_days()) for facts in care_facts(rows, now=now)
    }
    sets = [_set(members, dues=dues, today=today) for members in groups.values()]
    due = sorted((one for one in sets if one.lines), key=lambda one: (-one.days_over, one.school.name, one.kind.name))
    return CareOverview(sets=tuple(due), fine=len(rows) - sum(one.horns_due for one in due), horns=len(rows))


def _set(members: Sequence[Instrument], *, dues: dict[str, tuple[CareDue, ...]], today: date) -> CareSet:
    every = [due for row in members for due in dues[str(row.pk)]]
    now_due: dict[str, list[CareDue]] = defaultdict(list)
    for due in every:
        if due.due_on <= today:
            now_due[due.interval.code].append(due)
    lines = [
        SetLine(
            interval=listed[0].interval,
            count=len(listed),
            oldest_on=min(due.due_on for due in listed),
            minutes=together_minutes(listed[0].interval, count=len(listed), catalog=catalog()),
        )
        for listed in now_due.values()
    ]
    soon = today + timedelta(days=SOON_DAYS)
    return CareSet(
        school=members[0].school,
        kind=members[0].kind,
        horns=len(members),
        horns_due=len({due.key for listed in now_due.values() for due in listed}),
        lines=tuple(sorted(lines, key=lambda line: line.oldest_on)),
        soon=sum(1 for due in every if today < due.due_on <= soon),
        days_over=max(((today - line.oldest_on).days for line in lines), default=0),
    )


@dataclass(frozen=True, slots=True)
class HornDue:
    instrument: Instrument
    due: CareDue
    days_over: int  # negative: there is time


@dataclass(frozen=True, slots=True)
class DayTask:
    """One piece of care of a class-set day: on which horns, and what doing it in a row saves."""

    interval: CareInterval
    horns: tuple[HornDue, ...]  # due by the day, the longest overdue first
    later: tuple[HornDue, ...]  # not due yet
    minutes: TogetherMinutes

    @property
    def apart(self) -> str:
        return duration(self.minutes.apart)

    @property
    def together(self) -> str:
        return duration(self.minutes.together)

    @property
    def saved(self) -> str:
        return duration(self.minutes.saved) if self.minutes.saved >= 1 else ""


@dataclass(frozen=True, slots=True)
class CareDay:
    school: School
    kind: Kind
    today: date
    horns: int
    away: int  # with students: to be collected first
    tasks: tuple[DayTask, ...]
    lately: tuple[CareDone, ...]

    @property
    def due_tasks(self) -> tuple[DayTask, ...]:
        return tuple(task for task in self.tasks if task.horns)

    @property
    def together(self) -> str:
        return duration(sum(task.minutes.together for task in self.tasks))

    @property
    def saved(self) -> str:
        total = sum(task.minutes.saved for task in self.tasks)
        return duration(total) if total >= 1 else ""


def care_day(rows: Sequence[Instrument], *, school: School, kind: Kind, now: datetime) -> CareDay:
    """Return what to do to a class set, piece by piece. Four queries beyond the rows."""
    today = timezone.localdate(now)
    by_key = {str(row.pk): row for row in rows}
    listed: dict[str, list[CareDue]] = defaultdict(list)
    for facts in care_facts(rows, now=now):
        for due in care_due(facts, catalog=catalog(), much_days=much_days()):
            listed[due.interval.code].append(due)
    tasks = []
    for code in catalog().intervals:
        dues = sorted(listed.get(code, ()), key=lambda one: (one.due_on, by_key[one.key].asset_number))
        if not dues:
            continue
        horns = [HornDue(by_key[due.key], due, due.days_over(today=today)) for due in dues]
        now_due = tuple(one for one in horns if one.days_over >= 0)
        tasks.append(
            DayTask(
                interval=dues[0].interval,
                horns=now_due,
                later=tuple(one for one in horns if one.days_over < 0),
                minutes=together_minutes(dues[0].interval, count=len(now_due), catalog=catalog()),
            )
        )
    lately = CareDone.objects.standing().filter(instrument__in=rows, recorded_at__gt=now - timedelta(days=2))
    return CareDay(
        school=school,
        kind=kind,
        today=today,
        horns=len(rows),
        away=sum(1 for row in rows if row.whereabouts == Whereabouts.WITH_STUDENT),
        tasks=tuple(tasks),
        lately=tuple(lately.select_related("instrument").order_by("-recorded_at", "-pk")),
    )
