"""What care is due, by school and kind, and a day on which a whole class set gets it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Hashable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import Case, Count, DurationField, Max, Min, Q, QuerySet, Sum, Value, When
from django.db.models.functions import Coalesce, Greatest, Least
from django.utils import timezone

from inventory.catalog.load import catalog
from inventory.catalog.schema import CareInterval, Kind
from inventory.models import Custody, Instrument, InstrumentQuerySet, School, Whereabouts, in_use_on, schools_of
from inventory.selectors.school_sums import SchoolSums
from repairs.models import Attempt, CareDone, CareNext
from repairs.rules.care import CareFacts, care_dates, together_minutes
from repairs.rules.day import TogetherMinutes
from repairs.rules.facts import Outcome

YEAR = timedelta(days=365)
SOON_DAYS = 30
SETS_A_PAGE = 12
PERMISSION = "repairs.view_care"
AWAY = (Whereabouts.GONE, Whereabouts.NOT_FOUND)


def much_days() -> int:
    return int(catalog().settings["care_much_days"])


def cared_for(user: Any) -> InstrumentQuerySet:
    """Instruments that somebody could care for: held, found, and in use."""
    rows = Instrument.objects.visible_to(user, PERMISSION).in_use()
    return rows.exclude(whereabouts__in=AWAY)


def care_methods() -> dict[str, list[str]]:
    """Return the methods of bench work that are care too, with the care that each is."""
    by_method: dict[str, list[str]] = defaultdict(list)
    for interval in catalog().intervals.values():
        if interval.method:
            by_method[interval.method].append(interval.code)
    return by_method


def care_facts(rows: Sequence[Instrument]) -> list[CareFacts]:
    """Return what the rule of care needs of each instrument. Two queries, however many."""
    keys = [row.pk for row in rows]
    done: dict[int, dict[str, date]] = defaultdict(dict)
    recorded = CareDone.objects.standing().filter(instrument__in=keys)
    for pk, code, day in recorded.values_list("instrument_id", "code").annotate(last=Max("done_on")).order_by():
        done[pk][code] = day
    by_method = care_methods()
    tried = Attempt.objects.filter(
        job__instrument__in=keys, method__in=list(by_method), outcome__in=[Outcome.DONE, Outcome.FREED]
    )
    rows_done = tried.values_list("job__instrument_id", "method").annotate(last=Max("ended_at")).order_by()
    for pk, method, moment in rows_done:
        day = timezone.localdate(moment)
        for code in by_method[method]:
            done[pk][code] = max(day, done[pk].get(code, day))
    return [
        CareFacts(
            key=str(row.pk),
            kind=row.kind,
            registered_on=timezone.localdate(row.registered_at),
            options=row.options,
            done=done[row.pk],
        )
        for row in rows
    ]


def end_of(day: date) -> datetime:
    """The end of a day: whatever hour it is, the list of sets and the day of one of them count the same use."""
    return timezone.make_aware(datetime.combine(day, time.max))


def used_much(*, now: datetime, schools: Collection[int]) -> QuerySet[Custody, Any]:
    """The keys of the schools' instruments that were with a student for care_much_days or more of the last year."""
    begin = now - YEAR
    span = Least(Coalesce("until", Value(now)), Value(now)) - Greatest("since", Value(begin))
    spans = Custody.objects.filter(
        Q(until=None) | Q(until__gt=begin),
        instrument__school__in=schools, whereabouts=Whereabouts.WITH_STUDENT, since__lt=now, undone_at=None,
    )  # fmt: skip
    lent = spans.order_by().values("instrument").annotate(out=Sum(span, output_field=DurationField()))
    return lent.filter(out__gte=timedelta(days=much_days())).values("instrument")


def care_next(*, schools: Collection[int]) -> QuerySet[CareNext]:
    """What comes round at these schools for what can be cared for; none of care that the catalog no longer has."""
    rows = CareNext.objects.filter(
        in_use_on("instrument__"), instrument__school__in=schools, code__in=list(catalog().intervals)
    )
    return rows.exclude(instrument__whereabouts__in=AWAY)


@dataclass(frozen=True, slots=True)
class SetLine:
    """One piece of care that is due on several instruments of a class set."""

    interval: CareInterval
    count: int
    oldest_on: date
    minutes: TogetherMinutes


@dataclass(frozen=True, slots=True)
class CareSet:
    """All instruments of a kind at a school, with what is due on them."""

    school: School
    kind: Kind
    instruments: int
    instruments_due: int
    lines: tuple[SetLine, ...]
    soon: int  # pieces of care due within SOON_DAYS
    days_over: int  # of what is due longest

    @property
    def minutes(self) -> float:
        return sum(line.minutes.together for line in self.lines)


@dataclass(slots=True)
class SetSums:
    """The sums of a class set as they are kept."""

    instruments: int = 0
    instruments_due: int = 0
    soon: int = 0
    lines: dict[str, tuple[int, date]] = field(default_factory=dict)  # by the code of the care: how many, since when


def _sum_sets(schools: Collection[int], today: date, _variant: Hashable) -> dict[int, dict[str, SetSums]]:
    """Return the sums of every class set of the schools. Five queries."""
    now = end_of(today)
    sets: dict[int, dict[str, SetSums]] = {pk: defaultdict(SetSums) for pk in schools}
    held = Instrument.objects.filter(school__in=schools).in_use().exclude(whereabouts__in=AWAY).order_by()
    for school, kind, count in held.values_list("school", "kind_code").annotate(count=Count("pk")):
        sets[school][kind].instruments = count
    much = used_much(now=now, schools=schools)
    rows = care_next(schools=schools).order_by()
    # Apart, not by a CASE: the database would look up how much an instrument is used for every sum of its row.
    for some, day in ((rows.filter(instrument__in=much), "much_on"), (rows.exclude(instrument__in=much), "idle_on")):
        due = Q(**{f"{day}__lte": today})
        soon = Q(**{f"{day}__gt": today, f"{day}__lte": today + timedelta(days=SOON_DAYS)})
        coming = some.filter(due | soon).values_list("instrument__school", "instrument__kind_code")
        for school, kind, count in coming.filter(due).annotate(count=Count("instrument", distinct=True)):
            sets[school][kind].instruments_due += count
        by_code = coming.values_list("instrument__school", "instrument__kind_code", "code").annotate(
            count=Count("pk", filter=due), oldest=Min(day, filter=due), soon=Count("pk", filter=soon)
        )
        for school, kind, code, count, oldest, soon_due in by_code:
            found = sets[school][kind]
            found.soon += soon_due
            if count:
                before = found.lines.get(code, (0, oldest))
                found.lines[code] = before[0] + count, min(before[1], oldest)
    known = catalog().kinds  # an instrument whose kind has left the catalog belongs to no class set
    return {pk: {kind: found for kind, found in kinds.items() if kind in known} for pk, kinds in sets.items()}


_sets = SchoolSums(_sum_sets, at_once=20_000)


@dataclass(frozen=True, slots=True)
class CareOverview:
    """A page of class sets, the longest overdue first, and sums over all of them."""

    page: Page[Any]
    sets: tuple[CareSet, ...]
    due: int
    instruments: int
    kinds: tuple[str, ...]  # of what can be cared for


def care_overview(
    user: Any, *, today: date, school: School | None = None, kind: str = "", number: str = "1"
) -> CareOverview:
    """Return a page of the class sets with care due. Two queries, and three when something has happened since."""
    places = {one.pk: one for one in schools_of(user, PERMISSION)}
    sums = _sets.of(School.objects.filter(pk__in=places), today=today)
    chosen = [
        (places[pk], code, found)
        for pk, sets in sums.items()
        for code, found in sets.items()
        if school in {None, places[pk]} and kind in {"", code}
    ]
    due = [one for one in chosen if one[2].lines]
    due.sort(key=lambda one: (min(since for _, since in one[2].lines.values()), one[0].name, one[1]))
    page = Paginator(due, SETS_A_PAGE).get_page(number)
    return CareOverview(
        page=page,
        sets=tuple(_set(*one, today=today) for one in page.object_list),
        due=sum(one[2].instruments_due for one in due),
        instruments=sum(one[2].instruments for one in chosen),
        kinds=tuple({code: None for sets in sums.values() for code in sets}),
    )


def _set(school: School, kind: str, sums: SetSums, *, today: date) -> CareSet:
    trade = catalog()
    sized = trade.sized(trade.kinds[kind].size)
    lines = [
        SetLine(interval, count, oldest, together_minutes(interval, count=count, catalog=sized))
        for code, (count, oldest) in sums.lines.items()
        if (interval := trade.intervals[code])
    ]
    return CareSet(
        school=school,
        kind=trade.kinds[kind],
        instruments=sums.instruments,
        instruments_due=sums.instruments_due,
        lines=tuple(sorted(lines, key=lambda line: line.oldest_on)),
        soon=sums.soon,
        days_over=max((today - line.oldest_on).days for line in lines),
    )


@dataclass(frozen=True, slots=True)
class CareDue:
    """A piece of care coming round on one instrument."""

    instrument: Instrument
    due_on: date
    last_on: date | None  # None: never recorded here
    days_over: int  # negative: there is time


@dataclass(frozen=True, slots=True)
class DayTask:
    """One piece of care of a class-set day: on which instruments, and what doing it in a row saves."""

    interval: CareInterval
    instruments: tuple[CareDue, ...]  # due by the day, the longest overdue first
    later: tuple[CareDue, ...]  # not due yet
    minutes: TogetherMinutes


@dataclass(frozen=True, slots=True)
class CareDay:
    school: School
    kind: Kind
    today: date
    instruments: int  # in the set
    due: int  # of them
    away: int  # of those due, with students: to be collected first
    tasks: tuple[DayTask, ...]
    lately: tuple[CareDone, ...]

    @property
    def due_tasks(self) -> tuple[DayTask, ...]:
        return tuple(task for task in self.tasks if task.instruments)

    @property
    def minutes(self) -> TogetherMinutes:
        each = [task.minutes for task in self.tasks]
        return TogetherMinutes(apart=sum(one.apart for one in each), saved=sum(one.saved for one in each))


def care_day(rows: InstrumentQuerySet, *, school: School, kind: Kind, now: datetime) -> CareDay:
    """Return what to do to a class set, piece by piece, with the columns of its instruments shown. Four queries."""
    today, trade = timezone.localdate(now), catalog()
    by_key = {row.pk: row for row in rows.only("asset_number", "maker", "serial", "whereabouts")}
    # By their keys: asked for by school and kind once more, every one of them would read the whole school again.
    keys = list(by_key)
    much = [row["instrument"] for row in used_much(now=end_of(today), schools=[school.pk]).filter(instrument__in=keys)]
    day_due = Case(When(instrument__in=much, then="much_on"), default="idle_on")
    coming_round = CareNext.objects.filter(instrument__in=keys).annotate(due_on=day_due).exclude(due_on=None)
    listed: dict[str, list[CareDue]] = defaultdict(list)
    for pk, code, last_on, due_on in coming_round.values_list("instrument_id", "code", "last_on", "due_on"):
        listed[code].append(CareDue(by_key[pk], due_on, last_on, days_over=(today - due_on).days))
    tasks, wanted = [], set()
    for interval in [one for code, one in trade.intervals.items() if listed[code]]:
        coming = sorted(listed[interval.code], key=lambda one: (one.due_on, one.instrument.asset_number))
        due, later = [one for one in coming if one.days_over >= 0], [one for one in coming if one.days_over < 0]
        minutes = together_minutes(interval, count=len(due), catalog=trade.sized(kind.size))
        wanted |= {one.instrument for one in due}
        tasks.append(DayTask(interval, instruments=tuple(due), later=tuple(later), minutes=minutes))
    lately = CareDone.objects.standing().filter(instrument__in=keys, recorded_at__gt=now - timedelta(days=2))
    return CareDay(
        school=school,
        kind=kind,
        today=today,
        instruments=len(by_key),
        due=len(wanted),
        away=sum(row.whereabouts == Whereabouts.WITH_STUDENT for row in wanted),
        tasks=tuple(tasks),
        lately=tuple(
            lately.select_related("instrument")
            .only("code", "done_on", "instrument__asset_number")
            .order_by("-recorded_at", "-pk")
        ),
    )


def care_differences() -> Iterator[tuple[int, str]]:
    """The key of an instrument and a sentence for each stored day of care that does not follow from what was done."""
    stored: dict[int, dict[str, tuple[date | None, ...]]] = defaultdict(dict)
    for pk, code, *days in CareNext.objects.values_list("instrument_id", "code", "last_on", "much_on", "idle_on"):
        stored[pk][code] = tuple(days)
    rows = list(Instrument.objects.order_by("pk"))
    for row, facts in zip(rows, care_facts(rows), strict=True):
        computed = {one.code: (one.last_on, one.much_on, one.idle_on) for one in care_dates(facts, catalog=catalog())}
        for code in sorted(computed.keys() | stored[row.pk].keys()):
            if computed.get(code) != stored[row.pk].get(code):
                kept = stored[row.pk].get(code)
                yield row.pk, f"{row.asset_number}: care {code} is kept as {kept}, the facts say {computed.get(code)}"
