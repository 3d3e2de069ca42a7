"""The event log: one append-only, hash-chained row for every change."""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import chain
from re import fullmatch
from time import monotonic
from types import EllipsisType
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import connection, models, transaction
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from core.acts import current_act, is_acting, service
from core.bulk import columns_of, insert_rows
from core.days import full_day
from core.models import Event, EventHead, Revision, User, thread_key
from core.request_id import request_id_var
from core.traces import registered
from core.waited import tapped_at

NO_HASH = "0" * 64  # before the first event
LONGEST_COUNT = 18  # digits; no log is longer

TAPPED = "tapped_at"  # key in after: when it was tapped on a phone that had no signal
TEXTS = "typed"  # key in before and after of an event: column -> salted hash of a text that stands in a Revision
SALT_BYTES = 16

Texts = Mapping[str, tuple[str | None, str]]  # column -> (from, to); from None: not said

_salts: ContextVar[Callable[[], str]] = ContextVar("salts", default=lambda: secrets.token_hex(SALT_BYTES))


@contextmanager
def salted_by(draw: Callable[[], str]) -> Iterator[None]:
    """Take salts from ``draw``, for a demo that repeats: whoever can guess a salt can try names against a hash."""
    token = _salts.set(draw)
    try:
        yield
    finally:
        _salts.reset(token)


def new_salt() -> str:
    return _salts.get()()


def text_hash(salt: str, text: str) -> str:
    """Return what an event holds of a typed text."""
    return hashlib.sha256(f"{salt}\n{text}".encode()).hexdigest()


def plain(values: Mapping[str, Any] | None) -> dict[str, Any]:
    """Return the values as JSON stores them, so that a hash taken now equals the hash of the stored row."""
    result: dict[str, Any] = json.loads(json.dumps(dict(values or {}), cls=DjangoJSONEncoder, sort_keys=True))
    return result


def link_hash(previous: str, content: Mapping[str, Any]) -> str:
    """Return the SHA-256 of the previous hash and this event's content in canonical JSON."""
    body = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(f"{previous}\n{body}".encode()).hexdigest()


def content_of(event: Event) -> dict[str, Any]:
    """Return what the hash covers."""
    return {
        "number": event.number,
        "at": event.at.astimezone(UTC).isoformat(timespec="microseconds"),
        "actor": event.actor_id,
        "act": event.act,
        "subject": f"{event.subject_type}:{event.subject_id}",
        "thread": event.thread,
        "tenant": event.tenant,
        "before": event.before,
        "after": event.after,
        "request": event.request_id,
    }


@dataclass(frozen=True, slots=True)
class NewEvent:
    """One of many events written by one act; actor and time are the act's."""

    act: str
    subject: models.Model
    thread: str = ""
    tenant: int | None = None
    before: Mapping[str, Any] | None = None
    after: Mapping[str, Any] | None = None
    texts: Texts | None = None


@service
def record_event(
    *,
    act: str,
    subject: models.Model,
    actor: User | EllipsisType | None = ...,
    at: datetime | None = None,
    thread: str = "",
    tenant: int | None = None,
    before: Mapping[str, Any] | None = None,
    after: Mapping[str, Any] | None = None,
    texts: Texts | None = None,
) -> None:
    """Append one event at the end of the act. Actor and time are the act's unless given.

    Never put what somebody typed into before or after: it goes into ``texts``, which are kept in rows that can be
    erased, while the event holds their salted hashes.
    """
    running = current_act()
    by, when = (running.actor if actor is ... else actor), at or running.at
    if when is None:
        raise TypeError(f"event {act!r} has no time: pass `at`")
    new = NewEvent(act=act, subject=subject, thread=thread, tenant=tenant, before=before, after=after, texts=texts)
    _queue().append([_content(new, actor=by, at=when)])  # now: a row may be deleted before the act ends


def record_events(*, actor: User | None, at: datetime, events: Iterable[NewEvent]) -> None:
    """Append many events in the given order; they are built one by one while being written.

    Inside a service at the end of the act. Elsewhere at once and only once, not as an act of its own: a second try
    would find a generator used up. As in ``record_event``: what somebody typed goes into ``texts`` alone.
    """
    contents = (_content(new, actor=actor, at=at) for new in events)
    if is_acting():
        _queue().append(contents)
        return
    with transaction.atomic():
        _write(contents)


def _queue() -> list[Iterable[dict[str, Any]]]:
    act = current_act()
    queue: list[Iterable[dict[str, Any]]] = act.memory.setdefault("events", [])
    act.at_end("events", lambda: _write(chain.from_iterable(queue)), last=True)
    return queue


def _content(new: NewEvent, *, actor: User | None, at: datetime) -> dict[str, Any]:
    """Return what the hash covers except the number, the time itself, and the texts beside it."""
    before, after, typed = plain(new.before), plain(new.after), []
    if (tapped := tapped_at(at)) != at:
        after[TAPPED] = tapped.isoformat(timespec="seconds")
    for column, (was, now) in (new.texts or {}).items():
        salt = new_salt()
        after.setdefault(TEXTS, {})[column] = text_hash(salt, now)
        if was is not None:
            before.setdefault(TEXTS, {})[column] = text_hash(salt, was)
        typed.append({"column": column, "before": was or "", "after": now, "salt": salt})
    return {
        "moment": at,
        "typed": typed,
        "actor": actor.pk if actor else None,
        "act": new.act,
        "subject": f"{new.subject._meta.label_lower}:{new.subject.pk}",
        "thread": new.thread,
        "tenant": new.tenant,
        "before": before,
        "after": after,
    }


def _write(contents: Iterable[dict[str, Any]]) -> None:
    # SQLite's IMMEDIATE transaction and PostgreSQL's row lock both let one writer at a time past this line.
    head, _ = EventHead.objects.select_for_update(no_key=True).get_or_create(pk=1)
    typed: list[list[Any]] = []
    insert_rows(Event, _chained(contents, end=head, typed=typed))
    insert_rows(Revision, typed)
    EventHead.objects.filter(pk=1).update(last_number=head.last_number, last_hash=head.last_hash)


def _chained(contents: Iterable[dict[str, Any]], *, end: EventHead, typed: list[list[Any]]) -> Iterator[list[Any]]:
    """Yield table rows, each with the hash of the one before; ``end`` moves along the chain.

    ``typed`` gets the rows of the texts that they speak of.
    """
    of_texts = [field.attname for field in columns_of(Revision)]
    columns = {field.attname: field for field in columns_of(Event)}
    row: dict[str, Any] = dict.fromkeys(columns)
    request = row["request_id"] = request_id_var.get()
    as_json, as_moment = columns["after"].get_db_prep_save, columns["at"].get_db_prep_save
    for content in contents:
        moment, number, previous = content.pop("moment"), end.last_number + 1, end.last_hash
        texts = content.pop("typed")
        at = moment.astimezone(UTC).isoformat(timespec="microseconds")
        row |= {name: content[name] for name in ("act", "thread", "tenant")}
        row["hash"] = link_hash(previous, content | {"number": number, "at": at, "request": request})
        row |= {"number": number, "previous_hash": previous, "actor_id": content["actor"]}
        row["subject_type"], _, row["subject_id"] = content["subject"].partition(":")
        row["at"] = as_moment(moment, connection)
        row["before"], row["after"] = as_json(content["before"], connection), as_json(content["after"], connection)
        end.last_number, end.last_hash = number, row["hash"]
        about = {"number": number, "thread": thread_key(content["thread"])}
        typed.extend([(row | about | text)[name] for name in of_texts] for text in texts)
        yield list(row.values())


def already(sentence: str, *, subject: models.Model, acts: Collection[str], **after: Any) -> str:
    """Return the sentence of a refusal with who was faster and when: the latest of these acts upon the row.

    ``after`` narrows them by what the event says was so afterwards.
    """
    about = {"subject_type": subject._meta.label_lower, "subject_id": str(subject.pk)}
    about |= {f"after__{name}": value for name, value in after.items()}
    done = Event.objects.filter(**about, act__in=acts).select_related("actor").order_by("-number").first()
    if done is None or done.actor is None:
        return sentence
    day, clock = timezone.localdate(done.at), date_format(timezone.localtime(done.at), _("g:i A"))
    refused_at = current_act().at
    if refused_at is not None and day == timezone.localdate(refused_at):
        did = _("%(who)s did that today at %(time)s.") % {"who": done.actor, "time": clock}
    else:
        did = _("%(who)s did that on %(day)s at %(time)s.") % {"who": done.actor, "day": full_day(day), "time": clock}
    return f"{sentence} {did}"


def broken_links() -> Iterator[str]:
    """Yield a sentence for each event whose number or hash does not follow the one before, and for a wrong head."""
    previous, number = NO_HASH, 0
    unread = Event.objects.order_by("number")
    while True:  # others write meanwhile, and the head knows of it: read on until nothing has come after it
        for event in unread.iterator(chunk_size=2000):
            yield from _breaks(event, previous=previous, number=number)
            previous, number = event.hash, event.number
        heads = list(EventHead.objects.values_list("pk", "last_number", "last_hash"))
        unread = Event.objects.filter(number__gt=number).order_by("number")
        if not unread.exists():
            break
    yield from _wrong_heads(heads, number=number, digest=previous)


def _breaks(event: Event, *, previous: str, number: int) -> Iterator[str]:
    """Yield a sentence for what does not follow the event before, of which these are hash and number."""
    if event.number != number + 1:
        yield f"event {event.number}: follows {number}"
    if event.previous_hash != previous:
        yield f"event {event.number}: does not hold the previous event's hash"
    if event.hash != link_hash(event.previous_hash, content_of(event)):
        yield f"event {event.number}: its content does not match its hash"


@dataclass(frozen=True, slots=True)
class CheckedLinks:
    """A stretch of the log that was checked: up to which event, with which hash, and what is broken in it."""

    last: int
    hash: str
    broken: tuple[str, ...]
    is_end: bool  # nothing comes after it


def check_links(*, after: int, seconds: float, at_once: int = 1000) -> CheckedLinks:
    """Check the events after this one, as many as there is time for, and at the end of the log its head.

    The event itself counts as checked before.
    """
    deadline = monotonic() + seconds
    previous = Event.objects.filter(number=after).values_list("hash", flat=True).first() or NO_HASH
    number, broken = after, list[str]()
    while some := list(Event.objects.filter(number__gt=number).order_by("number")[:at_once]):
        for event in some:
            broken += _breaks(event, previous=previous, number=number)
            previous, number = event.hash, event.number
        if len(some) == at_once and monotonic() >= deadline:
            return CheckedLinks(number, previous, tuple(broken), is_end=False)
    heads = list(EventHead.objects.values_list("pk", "last_number", "last_hash"))
    if not Event.objects.filter(number__gt=number).exists():  # else somebody wrote meanwhile
        broken += _wrong_heads(heads, number=number, digest=previous)
    return CheckedLinks(number, previous, tuple(broken), is_end=True)


def _wrong_heads(heads: list[tuple[int, int, str]], *, number: int, digest: str) -> Iterator[str]:
    """Yield a sentence for each head that is not that of a log which ends with this event."""
    if not heads and (number or any(trace.model._base_manager.exists() for trace in registered())):
        yield "the event log has no head, so nobody can tell whether events were cut off its end"
    for pk, last_number, last_hash in heads:
        if pk != 1:
            yield f"the event log has a second head, {pk}"
        elif last_number != number:
            yield f"the chain ends at {number}, but its head says {last_number}"
        elif last_hash != digest:
            yield f"the head of the event log does not hold the hash of event {number}"


@dataclass(frozen=True, slots=True)
class Head:
    """The end of the log: how many events there are, and the hash that stands for all of them."""

    count: int
    hash: str
    at: datetime | None  # of the last event

    def __str__(self) -> str:
        return f"{self.count} {self.hash}"


def head_of_log() -> Head:
    """Return the end of the log as its last event has it, whatever the stored head says."""
    last = Event.objects.newest_first().values_list("number", "hash", "at").first()
    return Head(*last) if last else Head(0, NO_HASH, None)


def lost_head(printed: str) -> str:
    """Return a sentence if a head that was printed once, as "COUNT HASH", is no longer in the log, or is none."""
    number, _, digest = printed.strip().partition(" ")
    if not number.isdecimal() or len(number) > LONGEST_COUNT or not fullmatch("[0-9a-f]{64}", digest.strip()):
        return f"“{printed.strip()[:100]}” is no head of an event log: give the count and the hash as they were printed"
    if int(number) == 0:
        held = NO_HASH
    else:
        held = Event.objects.filter(number=int(number)).values_list("hash", flat=True).first() or ""
    if held == digest.strip():
        return ""
    return f"event {int(number)} of the log had another hash when it was printed: what came before it was changed since"
