"""Rows whose columns the log keeps with from and to, and what can be checked of them.

Codes, keys, days and amounts stand in the events. What somebody typed stands in a Revision, which can be erased, and
the event holds its salted hash. So a row equals what its events and revisions say, and any change behind the program's
back shows.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import islice
from typing import Any

from django.db import models
from django.db.models import Exists, OuterRef

from core.events import TEXTS, Texts, record_event, text_hash
from core.free_text import Typed
from core.models import Event, Revision, thread_key
from core.traces import OPENING, called

REDACTED = "text_redacted"  # the text as it is after a name was taken out
ERASED = "revisions"  # key in ``after`` of the event that erased them: keys of revisions
OLD_TYPED = "in the row"  # what earlier versions wrote of a typed text that had changed
AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class Kept:
    """A model whose rows the log can tell: columns with what events call them, and columns of typed text.

    An act of ``begins`` says all of a row, and leaves out what is empty; an act of ``corrects`` what changed.
    """

    model: type[models.Model]
    values: Mapping[str, str]
    texts: tuple[str, ...]
    begins: Collection[str]
    corrects: Collection[str]
    place: Callable[[Any], tuple[str, int | None]]  # thread and tenant of a row

    def event_value(self, column: str, value: Any) -> Any:
        """Return a value as events hold it; None for what is empty, however it is empty."""
        return plain_value(self.model._meta.get_field(column), value)

    def values_of(self, row: models.Model) -> dict[str, Any]:
        """Return what the event that begins a row holds: what is not empty, under the names of events."""
        pairs = ((name, self.event_value(column, _held(row, column))) for column, name in self.values.items())
        return {name: value for name, value in pairs if value is not None}

    def texts_of(self, row: models.Model) -> Texts:
        """Return the typed texts of a row that begins."""
        return {column: (None, text) for column in self.texts if (text := getattr(row, column))}

    def beginning(self, row: models.Model) -> dict[str, Any]:
        """Return after and texts of the event that begins a row."""
        return {"after": self.values_of(row), "texts": self.texts_of(row)}

    def change(self, row: models.Model, before: Mapping[str, Any], changed: Iterable[str]) -> dict[str, Any]:
        """Return before, after and texts of the event about these changed columns, ``before`` as they were."""
        names = list(changed)
        columns = [(column, self.values[column]) for column in names if column in self.values]
        return {
            "before": {name: self.event_value(column, before[column]) for column, name in columns},
            "after": {name: self.event_value(column, _held(row, column)) for column, name in columns},
            "texts": {name: (before[name], getattr(row, name)) for name in names if name in self.texts},
        }


_KEPT: dict[str, Kept] = {}  # by label of the model


def keep(entries: Iterable[Kept]) -> None:
    """Add an app's models."""
    _KEPT.update((entry.model._meta.label_lower, entry) for entry in entries)


def kept_of(model: type[models.Model]) -> Kept:
    return _KEPT[model._meta.label_lower]


def _held(row: models.Model, column: str) -> Any:
    """The value of a column without reading the row that it leads to."""
    field: Any = row._meta.get_field(column)
    return getattr(row, field.attname)


def plain_value(field: Any, value: Any) -> Any:
    """Return a column's value as JSON keeps it, the same before and after it was stored; None if it is empty."""
    if isinstance(value, models.Model):
        value = value.pk
    if value in (None, "", {}, []):
        return None
    if isinstance(field, models.DecimalField):
        return f"{Decimal(str(value)):.{field.decimal_places}f}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(field, models.CharField):
        return str(value)
    return value


# Versions of a text, when names are taken out


def versions_of(chosen: Iterable[Typed]) -> list[Typed]:
    """Return these texts and wherever else the same text of the same column stands: in its row, and in revisions.

    A row may have come to another school, and what was typed there is found only by way of the row.
    """
    found = {typed.key: typed for typed in chosen}
    same = {typed.same for typed in found.values()}
    threads = {typed.thread for typed in found.values()}
    rows: dict[str, set[int]] = defaultdict(set)
    for label, key, _column in (home.split(":") for home, _ in same):
        if label in _KEPT:
            rows[label].add(int(key))
    for label, keys in rows.items():
        others = (*_current(_KEPT[label], keys), *_earlier(label, keys, threads))
        found = {typed.key: typed for typed in others if typed.same in same} | found
    return list(found.values())


def _earlier(label: str, keys: Collection[int], threads: set[int | None]) -> Iterator[Typed]:
    about = {"subject_type": label, "subject_id__in": [str(key) for key in keys]}
    for row in Revision.objects.filter(**about, thread__in=threads - {None}).order_by("pk"):
        home = f"{label}:{row.subject_id}:{row.column}"
        yield Typed(Revision, row.pk, "before", row.before, row.thread, version_of=home)
        yield Typed(Revision, row.pk, "after", row.after, row.thread, version_of=home)


def _current(kept: Kept, keys: Collection[int]) -> Iterator[Typed]:
    for row in kept.model._base_manager.filter(pk__in=keys).order_by("pk"):
        for column in kept.texts:
            yield Typed(kept.model, row.pk, column, getattr(row, column), thread_key(kept.place(row)[0]))


def log_redacted(redacted: Iterable[Typed]) -> list[int]:
    """Write what each text of a row is now that a name was taken out; return the keys of the revisions erased.

    The caller's event holds the keys under ERASED: a revision without a salt that no event speaks of is a break.
    """
    rows: dict[tuple[str, int], set[str]] = defaultdict(set)
    erased = set()
    for typed in redacted:
        label = typed.model._meta.label_lower
        if typed.model is Revision:
            erased.add(typed.pk)
        elif label in _KEPT and typed.column in _KEPT[label].texts:
            rows[label, typed.pk].add(typed.column)
    for (label, key), columns in sorted(rows.items()):
        kept = _KEPT[label]
        row: models.Model = kept.model._base_manager.get(pk=key)
        thread, tenant = kept.place(row)
        texts: Texts = {column: (None, getattr(row, column)) for column in sorted(columns)}
        record_event(act=REDACTED, subject=row, thread=thread, tenant=tenant, texts=texts)
    return sorted(erased)


# Checks


def text_differences() -> Iterator[str]:
    """Yield a sentence for each typed text that is not what its event has the hash of, and each without an event."""
    erased: set[int] = set()
    for after in Event.objects.filter(after__has_key=ERASED).values_list("after", flat=True).iterator(AT_ONCE):
        erased.update(after[ERASED])
    with_texts = Event.objects.filter(after__has_key=TEXTS).order_by("number")
    alone = Revision.objects.filter(~Exists(with_texts.filter(number=OuterRef("number"))))
    yield from _without_event(alone.order_by("number", "column").iterator(AT_ONCE))
    events = with_texts.iterator(AT_ONCE)
    while some := list(islice(events, AT_ONCE)):
        rows: dict[int, dict[str, Revision]] = defaultdict(dict)
        for row in Revision.objects.filter(number__in=[event.number for event in some]).order_by("column"):
            rows[row.number][row.column] = row
        for event in some:
            yield from _texts_of_event(event, rows[event.number], erased)


def _without_event(rows: Iterable[Revision]) -> Iterator[str]:
    return (
        f"{row.column} of {row.subject_type} {row.subject_id}: event {row.number} tells no such text" for row in rows
    )


def _texts_of_event(event: Event, rows: Mapping[str, Revision], erased: Collection[int]) -> Iterator[str]:
    was, now = event.before.get(TEXTS, {}), event.after[TEXTS]
    yield from _without_event(row for column, row in rows.items() if column not in now)
    place = (event.subject_type, event.subject_id, thread_key(event.thread), event.tenant)
    for column, digest in now.items():
        row = rows.get(column)
        if row is None:
            yield f"event {event.number}: the text of its {column} is gone"
        elif (row.subject_type, row.subject_id, row.thread, row.tenant) != place:
            yield f"event {event.number}: the text of its {column} belongs to another row now"
        elif row.is_erased:
            if row.pk not in erased:
                yield f"event {event.number}: its {column} lost its salt, and no event says that it was erased"
        elif text_hash(row.salt, row.after) != digest:
            yield f"event {event.number}: its {column} does not match its hash"
        elif (text_hash(row.salt, row.before) if column in was else "") != was.get(column, ""):
            yield f"event {event.number}: its {column} before does not match its hash"


def row_differences() -> Iterator[str]:
    """Yield a sentence for each kept column that is not what events and revisions make it, by plain replay."""
    for kept in _KEPT.values():
        rows = kept.model._base_manager.order_by("pk").iterator(AT_ONCE)
        while some := list(islice(rows, AT_ONCE)):
            yield from _replayed(kept, some)


def _replayed(kept: Kept, rows: list[models.Model]) -> Iterator[str]:
    events = Event.objects.filter(
        subject_type=kept.model._meta.label_lower,
        subject_id__in=[str(row.pk) for row in rows],
        act__in={*kept.begins, *kept.corrects, OPENING, REDACTED},
    )
    texts = {(row.number, row.column): row for row in Revision.objects.filter(number__in=events.values("number"))}
    states: dict[str, dict[str, Any]] = {}
    for event in events.order_by("number"):
        if event.act in kept.begins or event.act == OPENING:
            states[event.subject_id] = {}
        state = states.get(event.subject_id)
        if state is not None:
            yield from _follow(kept, state, event, texts)
    for row in rows:
        name, state = called(kept.model, row.pk), states.get(str(row.pk))
        if state is None:
            yield f"{name}: no event says what it was when it was entered"
            continue
        for column, label in (*kept.values.items(), *((text, text) for text in kept.texts)):
            held, expected = kept.event_value(column, _held(row, column)), state.get(label)
            if held != expected:
                yield f"{name}: {column} is {held!r}, its events say {expected!r}"


def _follow(
    kept: Kept, state: dict[str, Any], event: Event, texts: Mapping[tuple[int, str], Revision]
) -> Iterator[str]:
    """Bring what is known of a row on by one event; a value before that is not the one known was changed in between."""
    names = {*kept.values.values()}
    for name, value in event.before.items():
        if name in names and value != state.get(name):
            yield f"event {event.number}: {name} was {value!r} before, earlier events say {state.get(name)!r}"
    state |= {name: value for name, value in event.after.items() if name in names}
    for column in event.after.get(TEXTS, {}):
        row = texts.get((event.number, column))
        if row is None or column not in kept.texts:
            continue  # text_differences tells
        if column in event.before.get(TEXTS, {}) and row.before != (state.get(column) or ""):
            yield f"event {event.number}: {column} was {row.before!r} before, earlier events say {state.get(column)!r}"
        state[column] = row.after or None


def texts_of(events: Iterable[Event]) -> dict[tuple[int, str], Revision]:
    """Return the texts that events speak of, by number and column. No query where they speak of none."""
    numbers = [event.number for event in events if TEXTS in event.after]
    rows = Revision.objects.filter(number__in=numbers) if numbers else ()
    return {(row.number, row.column): row for row in rows}
