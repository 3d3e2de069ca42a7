"""Opening events, for rows that were there before events told of them.

Migrations write them, with the models of their time.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.db import connection, models, transaction
from django.db.models.functions import Cast

from core.bulk import columns_of, insert_rows
from core.events import link_hash, plain
from core.traces import NOW, OPENING


@dataclass(frozen=True, slots=True)
class Opening:
    """Rows to open: those that no event of these acts began; without acts, all.

    The event holds ``columns`` as they are.
    """

    model: type[models.Model]
    begins: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
    needs: models.Q = models.Q()  # of these alone
    is_further: bool = False  # also rows that are begun: columns that came later are told of


def open_rows(openings: Iterable[Opening], *, at: datetime, event: Any, head: Any) -> int:
    """Append an opening event for each of these rows and return how many; ``event`` and ``head`` are the log's models.

    Rows that have one are passed over. Events stand in no thread and no school: nobody did anything.
    """
    with transaction.atomic():
        end, _ = head.objects.select_for_update().get_or_create(pk=1)
        first = end.last_number
        insert_rows(event, _chained(_contents(openings, event=event), end=end, at=at, event=event))
        head.objects.filter(pk=1).update(last_number=end.last_number, last_hash=end.last_hash)
    return int(end.last_number - first)


def _contents(openings: Iterable[Opening], *, event: Any) -> Iterator[tuple[str, dict[str, Any]]]:
    for opening in openings:
        label = opening.model._meta.label_lower
        begun = event.objects.filter(
            subject_type=label,
            subject_id=Cast(models.OuterRef("pk"), models.CharField(max_length=40)),
            act__in=(*opening.begins, OPENING),
        )
        rows = opening.model._base_manager.filter(opening.needs).order_by("pk")
        rows = rows if opening.is_further else rows.filter(~models.Exists(begun))
        # Read before anything is written: a cursor over rows that are being joined to would see the new events.
        for pk, *values in list(rows.values_list("pk", *opening.columns)):
            yield f"{label}:{pk}", {NOW: dict(zip(opening.columns, values, strict=True))} if opening.columns else {}


def _chained(
    contents: Iterable[tuple[str, dict[str, Any]]], *, end: Any, at: datetime, event: Any
) -> Iterator[list[Any]]:
    columns = {field.attname: field for field in columns_of(event)}
    as_json, when = columns["after"].get_db_prep_save, columns["at"].get_db_prep_save(at, connection)
    nothing = as_json({}, connection)
    for subject, values in contents:
        after, number, previous = plain(values), end.last_number + 1, end.last_hash
        content = {
            "number": number, "at": at.astimezone(UTC).isoformat(timespec="microseconds"), "actor": None,
            "act": OPENING, "subject": subject, "thread": "", "tenant": None, "before": {}, "after": after,
            "request": "",
        }  # fmt: skip
        row: dict[str, Any] = dict.fromkeys(columns)
        row |= {"number": number, "at": when, "act": OPENING, "thread": "", "request_id": "", "previous_hash": previous}
        row["subject_type"], _, row["subject_id"] = subject.partition(":")
        row["before"], row["after"] = nothing, as_json(after, connection)
        end.last_number, end.last_hash = number, link_hash(previous, content)
        row["hash"] = end.last_hash
        yield list(row.values())
