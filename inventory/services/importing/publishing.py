"""All new rows of a list become instruments in one short transaction, or none does.

Everything that is written is made ready before the transaction begins, so that others wait as briefly as can be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache
from itertools import islice
from time import perf_counter
from typing import Any, NamedTuple

from django.db import IntegrityError, transaction
from django.db.models import Model

from core.bulk import columns_of, insert_rows, reserve_keys, rows_of
from core.events import NewEvent, record_events
from core.models import User
from inventory.catalog.load import catalog
from inventory.columns import COLUMNS
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
from inventory.rules.intake.judge import RowJudgement, RowState, conflicts
from inventory.rules.intake.row import fit_options, notes_of, place_key
from inventory.rules.readiness import ReadinessFacts, readiness
from inventory.selectors.importing import import_schools, known_fleet
from inventory.selectors.standing import standing_for
from inventory.selectors.state import State
from inventory.services.following import instruments_changed
from inventory.services.importing.staging import forget_file
from inventory.services.registering import accessories_for, new_token

NAMED = 5  # rows that a refusal names
READY_AT_ONCE = 500  # rows made ready between two words about how far it is
LONGEST_NOTES = 10_000
WRITTEN = (Instrument, Accessory, Custody, Tag)  # in this order
# What a row says that goes into the instrument as it stands: key of the value -> column of the model.
AS_IT_STANDS = {
    column.key: column.name
    for column in COLUMNS
    if column.reads and column.name not in {"asset_number", "kind_code", "school", "room", "notes"}
}


class Published(NamedTuple):
    """How many instruments were written; none where the same list had been published before.

    ``transaction_s`` is how many seconds others had to wait with their own writing.
    """

    written: int
    transaction_s: float = 0.0


@dataclass(slots=True)
class Prepared:
    """One row on its way into the register. ``room`` is the room's name, not yet a row of its own."""

    row: int
    instrument: Instrument
    room: str
    donor: str


@dataclass(slots=True)
class _Rows:
    """What is written, as the database takes it, made ready before anybody has to wait."""

    prepared: list[Prepared] = field(default_factory=list)
    by_model: dict[type[Model], list[list[Any]]] = field(default_factory=lambda: {model: [] for model in WRITTEN})
    gifts: list[Donation] = field(default_factory=list)


def publish_import(
    *,
    batch: ImportBatch,
    actor: User | None,
    at: datetime,
    today: date,
    make_token: Callable[[], str] = new_token,
) -> Published:
    """Write every new row of a judged list, or raise ImportRefusedError and write nothing.

    ``make_token`` gives each its tag; a district that is made the same twice draws its own. Numbers and serials are
    compared with the register once more inside the transaction. A second confirmation of the same list writes nothing.
    """
    batch = ImportBatch.objects.select_related("school").get(pk=batch.pk)
    if batch.state == ImportBatch.State.PUBLISHED:
        return Published(0)
    judged = [
        RowJudgement(number, RowState.NEW, values, fingerprint)
        for number, values, fingerprint in ImportRow.objects.filter(batch=batch, state=ImportRow.State.NEW)
        .order_by("number")
        .values_list("number", "values", "fingerprint")
    ]
    batch.refresh_from_db(fields=["state"])
    if batch.state == ImportBatch.State.PUBLISHED:  # while the rows were read: then they may have been emptied
        return Published(0)
    if batch.state != ImportBatch.State.JUDGED:
        raise ImportRefusedError("Not every row has been checked yet.")
    if not judged:
        raise ImportRefusedError("There is nothing new to import.")
    schools = {school.code: school for school in import_schools(actor)}
    ImportBatch.objects.filter(pk=batch.pk).update(rows_ready=0)
    rows = _Rows()
    coming = (prepared(one, schools=schools, at=at) for one in judged)
    for ready in _make_ready(coming, count=len(judged), into=rows, actor=actor, at=at, today=today, token=make_token):
        ImportBatch.objects.filter(pk=batch.pk).update(rows_ready=ready)
    try:
        with transaction.atomic():
            begun = perf_counter()
            taken = ImportBatch.objects.filter(
                pk=batch.pk, state=ImportBatch.State.JUDGED, mapping=batch.mapping, rows_judged=batch.rows_judged
            ).update(state=ImportBatch.State.PUBLISHED, published_at=at)
            if not taken:
                return _published_meanwhile(batch)
            _refuse_conflicts(judged, schools.values())
            _write(batch, rows, actor=actor, at=at)
    except IntegrityError as error:
        raise ImportRefusedError(
            "Someone registered one of these numbers or serials at the same moment. Nothing was imported. Check the "
            "list again."
        ) from error
    waited = perf_counter() - begun
    forget_file(batch=batch)
    # What people wrote stays only where it has to be put right.
    batch.rows.exclude(state=ImportRow.State.PROBLEM).update(cells=[], values={}, remarks={})
    return Published(len(rows.prepared), transaction_s=waited)


def _published_meanwhile(batch: ImportBatch) -> Published:
    if ImportBatch.objects.filter(pk=batch.pk, state=ImportBatch.State.PUBLISHED).exists():
        return Published(0)
    raise ImportRefusedError("The list changed while you were looking at it. Nothing was imported. Look at it again.")


def _refuse_conflicts(judged: list[RowJudgement], schools: Iterable[School]) -> None:
    found = list(conflicts(rows=judged, known=known_fleet(schools)))
    if not found:
        return
    more = f" {len(found) - NAMED} more rows do too." if len(found) > NAMED else ""
    named = " ".join(problem.sentence for problem in found[:NAMED])
    raise ImportRefusedError(
        f"Instruments have changed since the list was checked, so nothing was imported. {named}{more} Check it again."
    )


# Making ready


def prepared(row: RowJudgement, *, schools: Mapping[str, School], at: datetime) -> Prepared:
    """Turn a judged row into an unsaved instrument. Raises ImportRefusedError for a school or kind that is not there."""
    values, kind = row.values, catalog().kinds.get(row.values["kind"])
    if kind is None:
        raise ImportRefusedError(f"Row {row.number}: the catalog no longer has {values['kind']}. Check the list again.")
    if values["school"] not in schools:
        raise ImportRefusedError(f"Row {row.number} belongs to a school you may not import for.")
    options, left = fit_options(values, options=kind.options, key=kind.key)
    instrument = Instrument(
        asset_number=values.get("asset_number", "").upper(),
        kind_code=kind.code,
        options=options,
        school=schools[values["school"]],
        notes=notes_of(values, left=left, most=LONGEST_NOTES),
        registered_at=at,
        fingerprint=row.fingerprint,
        **{name: values[key] for key, name in AS_IT_STANDS.items() if key in values},
        **columns_when_new(kind_code=kind.code, options=tuple(sorted(options.items()))),
    )
    return Prepared(row.number, instrument, values.get("room", ""), values.get("donor", ""))


@lru_cache(maxsize=512)
def columns_when_new(*, kind_code: str, options: tuple[tuple[str, str], ...]) -> dict[str, Any]:
    """The stored verdict and readiness of an instrument that nobody has inspected: the same for all of its kind."""
    standing = standing_for(kind_code, dict(options), is_inspected=False)
    verdict, limits = standing.judgement.verdict.value, standing.judgement.limits
    facts = ReadinessFacts(
        verdict=verdict,
        whereabouts=Whereabouts.IN_STORE,
        stopping=list(standing.judgement.reasons),
        limits=list(limits),
    )
    return State(standing, verdict, limits, readiness(facts), None, None).columns()


def _make_ready(
    coming: Iterator[Prepared],
    *,
    count: int,
    into: _Rows,
    actor: User | None,
    at: datetime,
    today: date,
    token: Callable[[], str],
) -> Iterator[int]:
    """Make the rows of all tables, some at a time; yield how many instruments are ready so far."""
    keys = iter(reserve_keys(Instrument, count=count))
    while some := list(islice(coming, READY_AT_ONCE)):
        instruments = [one.instrument for one in some]
        for instrument in instruments:
            instrument.pk = next(keys)
        made: dict[type[Model], Iterable[Model]] = {
            Instrument: instruments,
            Accessory: (row for instrument in instruments for row in accessories_for(instrument)),
            Custody: (
                Custody(instrument_id=instrument.pk, whereabouts=Whereabouts.IN_STORE, since=at, actor=actor)
                for instrument in instruments
            ),
            Tag: (Tag(token=token(), instrument_id=instrument.pk, issued_at=at) for instrument in instruments),
        }
        for model, objects in made.items():
            into.by_model[model].extend(rows_of(objects, model=model, with_key=model is Instrument))
        into.gifts.extend(
            Donation(instrument=one.instrument, donor_name=one.donor, received_on=one.instrument.acquired_on or today)
            for one in some
            if one.donor
        )
        into.prepared.extend(some)
        yield len(into.prepared)


# Writing


def _write(batch: ImportBatch, rows: _Rows, *, actor: User | None, at: datetime) -> None:
    _give_numbers(rows.prepared)
    _give_rooms(rows.prepared)
    names = [column.attname for column in columns_of(Instrument, with_key=True)]
    number_at, room_at = names.index("asset_number"), names.index("room_id")
    for one, row in zip(rows.prepared, rows.by_model[Instrument], strict=True):
        row[number_at], row[room_at] = one.instrument.asset_number, one.instrument.room_id
    for model, made in rows.by_model.items():
        insert_rows(model, made, with_key=model is Instrument)
    Donation.objects.bulk_create(rows.gifts)
    keys = [one.instrument.pk for one in rows.prepared]
    for start in range(0, len(keys), READY_AT_ONCE):
        instruments_changed(keys[start : start + READY_AT_ONCE])
    record_events(actor=actor, at=at, events=_events(batch, rows, by="a person" if actor else "the command"))


def _events(batch: ImportBatch, rows: _Rows, *, by: str) -> Iterator[NewEvent]:
    counted = {"rows": len(rows.prepared), "sha256": batch.sha256, "by": by}
    yield NewEvent("imported", batch, tenant=batch.school_id, after=counted)
    for one in rows.prepared:
        instrument = one.instrument
        after = {
            "asset_number": instrument.asset_number,
            "kind": instrument.kind_code,
            "acquired_by": instrument.acquired_by,
            "import": batch.pk,
            "row": one.row,
            "by": by,
        }
        yield NewEvent("registered", instrument, thread=instrument.thread, tenant=instrument.school_id, after=after)
    for gift in rows.gifts:
        instrument, received = gift.instrument, {"received_on": gift.received_on}
        yield NewEvent("gift_recorded", gift, thread=instrument.thread, tenant=instrument.school_id, after=received)


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
    named: dict[tuple[int, str], list[Prepared]] = {}  # by school and name as rooms are compared
    for one in prepared:
        if one.room:
            named.setdefault((one.instrument.school_id, _room_key(one.room)), []).append(one)
    schools = {school for school, _ in named}
    rooms = {
        (room.school_id, place_key(room.name)): room for room in Room.objects.filter(school__in=schools).order_by("-pk")
    }
    new = {key: Room(school_id=key[0], name=some[0].room) for key, some in named.items() if key not in rooms}
    Room.objects.bulk_create(new.values())
    for key, some in named.items():
        for one in some:
            one.instrument.room = rooms.get(key) or new[key]


_room_key = lru_cache(maxsize=4096)(place_key)
