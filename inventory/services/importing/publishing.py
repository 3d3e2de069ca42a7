"""All new rows of a list become instruments in one short transaction, or none does."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import islice
from time import perf_counter
from typing import Any

from django.db import IntegrityError, transaction

from core.bulk import columns_of, insert_rows, reserve_keys, rows_of
from core.events import NewEvent, record_events
from core.models import User
from inventory.exceptions import ImportRefusedError
from inventory.models import (
    Accessory,
    Custody,
    District,
    Donation,
    ImportBatch,
    ImportRow,
    Instrument,
    Room,
    School,
    Tag,
    Whereabouts,
)
from inventory.rules.intake.judge import RowJudgement, conflicts
from inventory.rules.intake.row import place_key
from inventory.selectors.importing import import_schools, known_fleet
from inventory.services.importing.preparing import Prepared, judgement_of_row, prepare
from inventory.services.importing.staging import forget_file
from inventory.services.registering import accessories_for, new_token

NAMED = 5  # rows that a refusal names
READY_AT_ONCE = 500  # rows made ready between two words about how far it is


@dataclass(frozen=True, slots=True)
class Published:
    """How many instruments were written; none where the same list had been published before.

    ``transaction_s`` is how many seconds others had to wait with their own writing.
    """

    written: int
    transaction_s: float = 0.0


def publish_import(
    *,
    batch: ImportBatch,
    actor: User | None,
    at: datetime,
    today: date,
    make_token: Callable[[], str] = new_token,
) -> Published:
    """Write every new row of a judged list, or raise ImportRefusedError and write nothing.

    ``make_token`` gives each its tag; a district that is made the same twice draws its own. Numbers and serials are compared with the register once more inside the transaction. A second confirmation of
    the same list writes nothing.
    """
    batch = ImportBatch.objects.select_related("school").get(pk=batch.pk)
    if batch.state == ImportBatch.State.PUBLISHED:
        return Published(0)
    judged = list(_new_rows(batch))
    batch.refresh_from_db(fields=["state"])
    if batch.state == ImportBatch.State.PUBLISHED:  # while the rows were read: then they may have been emptied
        return Published(0)
    if batch.state != ImportBatch.State.JUDGED or not judged:
        raise ImportRefusedError(
            "There is nothing new to write." if batch.state == ImportBatch.State.JUDGED else "Not every row is judged."
        )
    schools = {school.code: school for school in import_schools(actor)}
    ImportBatch.objects.filter(pk=batch.pk).update(rows_ready=0)
    rows = _Rows()
    coming = prepare(rows=iter(judged), schools=schools, at=at, today=today, make_token=make_token)
    for ready in _make_ready(coming, count=len(judged), into=rows, actor=actor, at=at):
        ImportBatch.objects.filter(pk=batch.pk).update(rows_ready=ready)
    prepared = rows.prepared
    try:
        with transaction.atomic():
            begun = perf_counter()
            taken = ImportBatch.objects.filter(
                pk=batch.pk, state=ImportBatch.State.JUDGED, mapping=batch.mapping, rows_judged=batch.rows_judged
            ).update(state=ImportBatch.State.PUBLISHED, published_at=at)
            if not taken:
                return _published_meanwhile(batch)
            _refuse_conflicts(judged, schools.values())
            _write(batch, prepared, rows, actor=actor, at=at)
    except IntegrityError as error:
        raise ImportRefusedError(
            "Somebody registered one of these numbers or serials at the same moment. Nothing was written: judge the "
            "list again and look."
        ) from error
    waited = perf_counter() - begun
    forget_file(batch=batch)
    # What people wrote stays only where it has to be put right.
    batch.rows.exclude(state=ImportRow.State.PROBLEM).update(cells=[], values={}, remarks={})
    return Published(len(prepared), transaction_s=waited)


def _published_meanwhile(batch: ImportBatch) -> Published:
    if ImportBatch.objects.filter(pk=batch.pk, state=ImportBatch.State.PUBLISHED).exists():
        return Published(0)
    raise ImportRefusedError("The list has changed while you looked at it. Nothing was written: look again.")


def _new_rows(batch: ImportBatch) -> Iterator[RowJudgement]:
    rows = ImportRow.objects.filter(batch=batch, state=ImportRow.State.NEW).order_by("number")
    for number, values, fingerprint in rows.values_list("number", "values", "fingerprint").iterator():
        yield judgement_of_row(number=number, values=values, fingerprint=fingerprint)


def _refuse_conflicts(judged: list[RowJudgement], schools: Iterable[School]) -> None:
    found = list(conflicts(rows=judged, known=known_fleet(schools)))
    if not found:
        return
    more = f" So do {len(found) - NAMED} more rows." if len(found) > NAMED else ""
    named = " ".join(problem.sentence for problem in found[:NAMED])
    raise ImportRefusedError(
        f"The register has changed since the list was judged, and nothing was written. {named}{more} Judge it again."
    )


@dataclass(frozen=True, slots=True)
class _Rows:
    """What is written, as the database takes it, made ready before anybody has to wait."""

    prepared: list[Prepared] = field(default_factory=list)
    instruments: list[list[Any]] = field(default_factory=list)
    accessories: list[list[Any]] = field(default_factory=list)
    custodies: list[list[Any]] = field(default_factory=list)
    tags: list[list[Any]] = field(default_factory=list)
    gifts: list[Donation] = field(default_factory=list)


def _make_ready(
    coming: Iterator[Prepared], *, count: int, into: _Rows, actor: User | None, at: datetime
) -> Iterator[int]:
    """Make the rows of all tables, some at a time; yield how many instruments are ready so far."""
    keys = iter(reserve_keys(Instrument, count=count))
    while some := list(islice(coming, READY_AT_ONCE)):
        for one in some:
            one.instrument.pk = next(keys)
        accessories = (row for one in some for row in accessories_for(one.instrument))
        custodies = (
            Custody(instrument_id=one.instrument.pk, whereabouts=Whereabouts.IN_STORE, since=at, actor=actor)
            for one in some
        )
        tags = (Tag(token=one.token, instrument_id=one.instrument.pk, issued_at=at) for one in some)
        into.instruments.extend(rows_of((one.instrument for one in some), model=Instrument, with_key=True))
        into.accessories.extend(rows_of(accessories, model=Accessory))
        into.custodies.extend(rows_of(custodies, model=Custody))
        into.tags.extend(rows_of(tags, model=Tag))
        into.gifts.extend(
            Donation(instrument=one.instrument, donor_name=one.donor, received_on=one.received_on)
            for one in some
            if one.donor
        )
        into.prepared.extend(some)
        yield len(into.prepared)


def _write(batch: ImportBatch, prepared: list[Prepared], rows: _Rows, *, actor: User | None, at: datetime) -> None:
    _give_numbers(prepared)
    _give_rooms(prepared)
    names = [column.attname for column in columns_of(Instrument, with_key=True)]
    number_at, room_at = names.index("asset_number"), names.index("room_id")
    for one, row in zip(prepared, rows.instruments, strict=True):
        row[number_at], row[room_at] = one.instrument.asset_number, one.instrument.room_id
    insert_rows(Instrument, rows.instruments, with_key=True)
    insert_rows(Accessory, rows.accessories)
    insert_rows(Custody, rows.custodies)
    insert_rows(Tag, rows.tags)
    Donation.objects.bulk_create(rows.gifts)
    record_events(actor=actor, at=at, events=_events(batch, prepared, rows.gifts, actor=actor))


def _events(
    batch: ImportBatch, prepared: list[Prepared], gifts: list[Donation], *, actor: User | None
) -> Iterator[NewEvent]:
    by = "a person" if actor else "the command"
    yield NewEvent(
        "imported", batch, tenant=batch.school_id, after={"rows": len(prepared), "sha256": batch.sha256, "by": by}
    )
    for one in prepared:
        instrument = one.instrument
        yield NewEvent(
            "registered",
            instrument,
            thread=instrument.thread,
            tenant=instrument.school_id,
            after={
                "asset_number": instrument.asset_number,
                "kind": instrument.kind_code,
                "acquired_by": instrument.acquired_by,
                "import": batch.pk,
                "row": one.row,
                "by": by,
            },
        )
    for gift in gifts:
        yield NewEvent(
            "gift_recorded",
            gift,
            thread=gift.instrument.thread,
            tenant=gift.instrument.school_id,
            after={"received_on": gift.received_on},
        )


def _give_numbers(prepared: list[Prepared]) -> None:
    """Take the missing numbers from the district's sequence, all in one go; a number once taken never comes back."""
    waiting = [one.instrument for one in prepared if not one.instrument.asset_number]
    if not waiting:
        return
    district = District.objects.select_for_update().get(pk=1)
    taken = set(Instrument.objects.order_by().values_list("asset_number", flat=True))
    taken |= {one.instrument.asset_number for one in prepared}
    following = district.next_asset_number
    for instrument in waiting:
        number = ""
        while not number or number in taken:
            number = district.asset_number(following)
            following += 1
        instrument.asset_number = number
    District.objects.filter(pk=1).update(next_asset_number=following)


def _give_rooms(prepared: list[Prepared]) -> None:
    """Find each room by any spelling of its name, or make it under the first."""
    named = [one for one in prepared if one.room]
    schools = {one.instrument.school_id for one in named}
    rooms = {
        (room.school_id, place_key(room.name)): room for room in Room.objects.filter(school__in=schools).order_by("-pk")
    }
    new = {one.room_key: one for one in reversed(named) if one.room_key not in rooms}
    made = Room.objects.bulk_create(Room(school_id=key[0], name=one.room) for key, one in reversed(new.items()))
    rooms |= {(room.school_id, place_key(room.name)): room for room in made}
    for one in named:
        one.instrument.room = rooms[one.room_key]
