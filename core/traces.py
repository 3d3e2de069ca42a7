"""Rows against the event log, both ways. Each app says beside its models how events speak of its rows.

Each row has an event that began it, and each event the row it speaks of, unless an event says that the row is gone.
What a row holds in its protected columns is what the latest event said. Rows are read some at a time with the events
about them, so that neither memory nor queries grow faster than the district.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any, NamedTuple

from django.apps import apps
from django.core.exceptions import FieldDoesNotExist, ValidationError
from django.db import models
from django.db.models import Count, Q

from core.models import Event, thread_key

OPENING = "opening"  # begins a row that was there before events told of such rows; written by migrations
NOW = "now"  # key in ``after``: protected columns of the row as the act left them
AT_ONCE = 2000
NOTHING = object()  # what a source gives where the event does not say


def as_left(row: models.Model, *columns: str) -> dict[str, Any]:
    """Return what an event says of protected columns: the row as the act leaves it."""
    return {NOW: {column: getattr(row, column) for column in columns}}


class Entry(NamedTuple):
    """One event, as far as it says something of a row."""

    number: int
    act: str
    subject: str
    at: datetime
    actor: int | None
    thread: str
    tenant: int | None
    after: Mapping[str, Any]


Source = Callable[[Entry], Any]


def after(key: str) -> Source:
    """The value under this key of what the event says was so afterward."""
    return lambda event: event.after.get(key, NOTHING)


def always(value: Any) -> Source:
    """What follows from the act itself."""
    return lambda _event: value


def moment(event: Entry) -> Any:
    return event.at


def who(event: Entry) -> Any:
    return event.actor


def tenant(event: Entry) -> Any:
    return event.tenant


def thread_row(event: Entry) -> Any:
    """The key of the row whose thread it is in."""
    key = thread_key(event.thread)
    return NOTHING if key is None else key


Says = Mapping[str, Mapping[str, Source]]  # act -> column -> where its event says it


@dataclass(frozen=True, slots=True)
class Named:
    """Rows that events about another row name by their keys, as those about a job name its attempts."""

    model: type[models.Model]
    under: str  # its column with the key of the row that those events are about
    acts: Mapping[str, str]  # act -> key in ``after`` of the row's key, or of a list of keys
    says: Says = field(default_factory=dict)  # by acts of either
    columns: tuple[str, ...] = ()
    key: str = "pk"  # the column that events name it by


@dataclass(frozen=True, slots=True)
class Trace:
    """How the event log speaks of a model's rows.

    ``columns`` are protected: an event may hold them under NOW, and the row must have what the latest one holds.
    ``files`` names columns of files with the column that keeps the hash of each.
    ``says`` reads the same from what an act has always told. ``derived`` are figures of a column (its hash), under a
    name of their own. ``counts`` says how many rows of another model belong to it: act -> (source, model, column).
    """

    model: type[models.Model]
    begins: Collection[str]
    says: Says = field(default_factory=dict)
    columns: tuple[str, ...] = ()
    ends: Collection[str] = ()  # acts after which there is no such row
    silent: Collection[str] = ()  # frequent acts that say nothing of its columns
    needs: Q | None = None  # the rows that must have an event; None: every one
    derived: Mapping[str, tuple[str, Callable[[Any], Any]]] = field(default_factory=dict)
    counts: Mapping[str, tuple[Source, type[models.Model], str]] = field(default_factory=dict)
    files: Mapping[str, str] = field(default_factory=dict)
    named: tuple[Named, ...] = ()


_TRACES: dict[type[models.Model], Trace] = {}


def register(traces: Iterable[Trace]) -> None:
    """Add an app's traces; one of a model that is there takes its place."""
    _TRACES.update((trace.model, trace) for trace in traces)


def registered() -> tuple[Trace, ...]:
    return tuple(_TRACES.values())


def log_differences() -> Iterator[str]:
    """Yield a sentence for each row without its event, event without its row, and column that an event contradicts."""
    yield from _unknown_subjects()
    for trace in registered():
        yield from trace_differences(trace)


def trace_differences(trace: Trace) -> Iterator[str]:
    """Yield the same for the rows of one trace alone."""
    yield from _without_rows(trace.model, ends=trace.ends)
    for named in trace.named:
        yield from _without_rows(named.model)
    yield from _rows_differ(trace)


def _unknown_subjects() -> Iterator[str]:
    labels = {model._meta.label_lower for model in apps.get_models()}
    for label in Event.objects.order_by("subject_type").values_list("subject_type", flat=True).distinct():
        if label not in labels:
            yield f"events speak of {label}, and there is nothing of that kind"


def called(model: type[models.Model], key: object) -> str:
    return f"{model._meta.verbose_name} {key}"


def _without_rows(model: type[models.Model], *, ends: Collection[str] = ()) -> Iterator[str]:
    """Events about a row that is not there, and none of them says that it went."""
    label = model._meta.label_lower
    about = Event.objects.filter(subject_type=label)
    keys = about.order_by("subject_id").values_list("subject_id", flat=True).distinct().iterator(AT_ONCE)
    while some := list(islice(keys, AT_ONCE)):
        there = set(model._base_manager.filter(pk__in=list(filter(str.isdigit, some))).values_list("pk", flat=True))
        gone = [key for key in some if not key.isdigit() or int(key) not in there]
        last: dict[str, tuple[int, str]] = {}
        for key, number, act in (
            about.filter(subject_id__in=gone).order_by("number").values_list("subject_id", "number", "act")
        ):
            last[key] = (number, act)
        for key, (number, act) in sorted(last.items(), key=lambda one: one[1]):
            if act not in ends:
                yield f"event {number} is about {called(model, key)}, which is not there"


def _entries(model: type[models.Model], keys: Collection[Any], *, silent: Collection[str] = ()) -> Iterator[Entry]:
    """The events about these rows, those of each row in their order."""
    waiting = iter(keys)
    while some := [str(key) for key in islice(waiting, AT_ONCE)]:
        rows = Event.objects.filter(subject_type=model._meta.label_lower, subject_id__in=some)
        rows = rows.exclude(act__in=silent) if silent else rows
        for row in rows.order_by("number").values_list(
            "number", "act", "subject_id", "at", "actor_id", "thread", "tenant", "after"
        ):
            event = Entry(*row)
            yield event if isinstance(event.after, dict) else event._replace(after={})


@dataclass(slots=True)
class _Known:
    """What the events read so far say of one row."""

    begun: bool = False
    ended: int = 0  # the event that says it is gone
    columns: dict[str, tuple[Any, int]] = field(default_factory=dict)  # column -> what is said, and by which event

    def take_in(self, event: Entry, *, says: Says, columns: Collection[str]) -> None:
        for column, source in says.get(event.act, {}).items():
            value = source(event)
            if value is not NOTHING:
                self.columns[column] = (value, event.number)
        now = event.after.get(NOW)
        if isinstance(now, dict):
            self.columns.update((name, (now[name], event.number)) for name in columns if name in now)


def _columns(says: Says, columns: Iterable[str]) -> list[str]:
    """The columns that events may speak of, each once."""
    return list(dict.fromkeys([*columns, *(name for sources in says.values() for name in sources)]))


def _rows_differ(trace: Trace) -> Iterator[str]:
    names = [name for name in _columns(trace.says, trace.columns) if name not in trace.derived]
    names = list(dict.fromkeys([*names, *(column for column, _ in trace.derived.values())]))
    rows = trace.model._base_manager.order_by("pk")
    if trace.needs is not None:
        rows = rows.annotate(_needs=models.Case(models.When(trace.needs, then=True), default=False))
        names.append("_needs")
    last: Any = None
    while some := list((rows if last is None else rows.filter(pk__gt=last)).values("pk", *names)[:AT_ONCE]):
        last = some[-1]["pk"]
        known: dict[str, _Known] = defaultdict(_Known)
        events: list[Entry] = []
        counts: dict[tuple[type[models.Model], str], dict[Any, tuple[Any, int]]] = defaultdict(dict)
        namers = {act for named in trace.named for act in named.acts}
        for event in _entries(trace.model, [row["pk"] for row in some], silent=trace.silent):
            about = known[event.subject]
            about.begun |= event.act in trace.begins or event.act == OPENING
            about.ended = event.number if event.act in trace.ends else 0
            about.take_in(event, says=trace.says, columns=trace.columns)
            if event.act in trace.counts:
                source, model, column = trace.counts[event.act]
                counts[model, column][int(event.subject)] = (source(event), event.number)
            if event.act in namers:
                events.append(event)
        for row in some:
            for name, (column, figure) in trace.derived.items():
                row[name] = figure(row[column])
            yield from _row_differs(trace.model, row, known[str(row["pk"])], is_needed=row.get("_needs", True))
        for (model, column), counted in counts.items():
            yield from _counts_differ(trace.model, model, column, counted)
        for named in trace.named:
            yield from _named_differ(named, [row["pk"] for row in some], events)


def _row_differs(model: type[models.Model], row: Mapping[str, Any], known: _Known, *, is_needed: bool) -> Iterator[str]:
    name = called(model, row["pk"])
    if known.ended:
        yield f"{name} is there, but event {known.ended} says that it is gone"
    elif not known.begun and is_needed:
        yield f"{name} is there, but no event says how it came about"
    for column, (logged, number) in known.columns.items():
        if not _agrees(model, column, held=row[column], logged=logged):
            label = column.removesuffix("_id").replace("_", " ")
            yield f"{name}: {label} is {_shown(row[column])}, event {number} says {_shown(logged)}"


def _shown(value: Any) -> str:
    if value is None or value == "":
        return "empty"
    return value.isoformat(sep=" ") if isinstance(value, datetime) else str(value)


def _agrees(model: type[models.Model], column: str, *, held: Any, logged: Any) -> bool:
    """Whether a column holds what an event says, which kept it as JSON does: dates and amounts as text."""
    if held == logged:
        return True
    if held is None or logged is None:
        return False
    try:
        known: Any = model._meta.get_field(column)
        while isinstance(known, models.ForeignKey):
            known = known.target_field
        value = known.to_python(logged)
    except (FieldDoesNotExist, ValidationError, TypeError, ValueError):
        return False
    if isinstance(held, datetime):  # JSON keeps no more than thousandths
        held = held.replace(microsecond=held.microsecond // 1000 * 1000)
    return bool(value == held)


def _counts_differ(
    model: type[models.Model], counted: type[models.Model], column: str, logged: Mapping[Any, tuple[Any, int]]
) -> Iterator[str]:
    rows = counted._base_manager.filter(**{f"{column}__in": list(logged)}).order_by().values_list(column)
    held = dict(rows.annotate(count=Count("pk")))
    for key, (count, number) in logged.items():
        if count is not NOTHING and held.get(key, 0) != count:
            plural = counted._meta.verbose_name_plural
            yield f"{called(model, key)} has {held.get(key, 0)} {plural}, event {number} says {count}"


def _named_differ(named: Named, parents: list[Any], events: list[Entry]) -> Iterator[str]:
    """Rows that events about others name: each is named or has an opening event, and each that is named is there."""
    names = list(dict.fromkeys([named.under, *_columns(named.says, named.columns)]))
    if named.key != "pk":
        names.append(named.key)
    rows = list(
        named.model._base_manager.filter(**{f"{named.under}__in": parents}).order_by("pk").values("pk", *set(names))
    )
    by_key = {row[named.key]: row for row in rows}
    known: dict[Any, _Known] = defaultdict(_Known)
    own: dict[str, Any] = {str(row["pk"]): row[named.key] for row in rows}
    entries: list[tuple[Any, Entry, bool]] = []
    for event in events:
        keys = event.after.get(named.acts.get(event.act, ""), ())
        entries += [(key, event, True) for key in (keys if isinstance(keys, list) else [keys]) if isinstance(key, int)]
    entries += [(own[event.subject], event, event.act == OPENING) for event in _entries(named.model, own)]
    for key, event, begins in sorted(entries, key=lambda one: one[1].number):
        known[key].begun |= begins
        known[key].take_in(event, says=named.says, columns=named.columns)
        row = by_key.get(key)
        if row is None:
            yield f"event {event.number} names {called(named.model, key)}, which is not there"
        elif begins and event.act != OPENING and str(row[named.under]) != event.subject:
            yield f"event {event.number} names {called(named.model, key)}, which belongs to another row now"
    for row in rows:
        yield from _row_differs(named.model, row, known[row[named.key]], is_needed=True)
