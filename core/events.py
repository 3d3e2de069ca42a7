"""The event log: one append-only, hash-chained row for every change."""

from __future__ import annotations

import contextvars
import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import connection, models, transaction

from core.bulk import columns_of, insert_rows
from core.models import Event, EventHead, User

request_id_var: contextvars.ContextVar[str] = contextvars.ContextVar("request_id", default="")


def plain(values: Mapping[str, Any] | None) -> dict[str, Any]:
    """Values as JSON keeps them, so that a hash taken now equals the hash of the row read back."""
    result: dict[str, Any] = json.loads(json.dumps(dict(values or {}), cls=DjangoJSONEncoder, sort_keys=True))
    return result


def link_hash(previous: str, content: Mapping[str, Any]) -> str:
    """SHA-256 over the hash before and this event's content in canonical JSON."""
    body = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(f"{previous}\n{body}".encode()).hexdigest()


def content_of(event: Event) -> dict[str, Any]:
    """What the hash covers."""
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


@transaction.atomic
def record_event(
    *,
    actor: User | None,
    act: str,
    subject: models.Model,
    at: datetime,
    thread: str = "",
    tenant: int | None = None,
    before: Mapping[str, Any] | None = None,
    after: Mapping[str, Any] | None = None,
) -> Event:
    """Append one event. Never put a person's name, contact or free text about a person into before or after."""
    # SQLite's IMMEDIATE transaction and PostgreSQL's row lock both let one writer at a time past this line.
    head, _ = EventHead.objects.select_for_update().get_or_create(pk=1)
    event = Event(
        number=head.last_number + 1,
        at=at,
        actor=actor,
        act=act,
        subject_type=subject._meta.label_lower,
        subject_id=str(subject.pk),
        thread=thread,
        tenant=tenant,
        before=plain(before),
        after=plain(after),
        request_id=request_id_var.get(),
        previous_hash=head.last_hash,
    )
    event.hash = link_hash(head.last_hash, content_of(event))
    event.save(force_insert=True)
    EventHead.objects.filter(pk=1).update(last_number=event.number, last_hash=event.hash)
    return event


@dataclass(frozen=True, slots=True)
class NewEvent:
    """One event of many that one act writes; actor and moment are the act's."""

    act: str
    subject: models.Model
    thread: str = ""
    tenant: int | None = None
    before: Mapping[str, Any] | None = None
    after: Mapping[str, Any] | None = None


@transaction.atomic
def record_events(*, actor: User | None, at: datetime, events: Iterable[NewEvent]) -> int:
    """Append many events in the order given, taking the end of the chain once; return how many.

    The rule of ``record_event`` holds: no name, contact or free text about a person.
    """
    head, _ = EventHead.objects.select_for_update().get_or_create(pk=1)
    count = head.last_number
    insert_rows(Event, _chained(events, actor=actor, at=at, end=head))
    EventHead.objects.filter(pk=1).update(last_number=head.last_number, last_hash=head.last_hash)
    return head.last_number - count


def _chained(events: Iterable[NewEvent], *, actor: User | None, at: datetime, end: EventHead) -> Iterator[list[Any]]:
    """The events as rows of the table, each holding the hash of the one before; ``end`` moves with the chain."""
    columns = {field.attname: field for field in columns_of(Event)}
    row: dict[str, Any] = dict.fromkeys(columns)
    row["at"] = columns["at"].get_db_prep_save(at, connection)
    row["actor_id"], row["request_id"] = actor.pk if actor else None, request_id_var.get()
    content = {
        "at": at.astimezone(UTC).isoformat(timespec="microseconds"),
        "actor": row["actor_id"],
        "request": row["request_id"],
    }
    as_json = columns["after"].get_db_prep_save
    for new in events:
        number, previous = end.last_number + 1, end.last_hash
        subject_type, subject_id = new.subject._meta.label_lower, str(new.subject.pk)
        content |= {"number": number, "act": new.act, "subject": f"{subject_type}:{subject_id}", "thread": new.thread}
        content |= {"tenant": new.tenant, "before": plain(new.before), "after": plain(new.after)}
        row |= {"number": number, "act": new.act, "subject_type": subject_type, "subject_id": subject_id}
        row |= {"thread": new.thread, "tenant": new.tenant, "previous_hash": previous}
        row["hash"] = link_hash(previous, content)
        row["before"] = as_json(content["before"], connection)
        row["after"] = as_json(content["after"], connection)
        end.last_number, end.last_hash = number, row["hash"]
        yield list(row.values())


def broken_links() -> Iterator[str]:
    """Yield a sentence for every event whose hash or number does not follow from the one before."""
    previous, number = "0" * 64, 0
    for event in Event.objects.order_by("number").iterator(chunk_size=2000):
        if event.number != number + 1:
            yield f"event {event.number}: follows {number}"
        if event.previous_hash != previous:
            yield f"event {event.number}: does not hold the hash of the one before"
        if event.hash != link_hash(event.previous_hash, content_of(event)):
            yield f"event {event.number}: its content does not match its hash"
        previous, number = event.hash, event.number
    head = EventHead.objects.filter(pk=1).first()
    if head and (head.last_number, head.last_hash) != (number, previous):
        yield f"the chain ends at {number}, its head says {head.last_number}"
