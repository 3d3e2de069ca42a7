"""All new rows of a list become instruments in one short transaction, or none does.

Everything that is written is made ready before the transaction begins, so that others wait as briefly as can be.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache
from itertools import islice
from time import perf_counter
from typing import Any, NamedTuple

from django.db import transaction
from django.db.models import Model
from django.utils.translation import gettext, ngettext

from core.acts import service
from core.bulk import columns_of, insert_rows, reserve_keys, rows_of
from core.events import NewEvent, Texts, record_events
from core.models import User
from core.progress import report_progress
from core.revisions import kept_of
from core.traces import NOW
from inventory.catalog.load import catalog
from inventory.columns import COLUMNS
from inventory.exceptions import RefusedError
from inventory.models import (
    Accessory,
    Custody,
    Donation,
    ImportBatch,
    ImportRow,
    Instrument,
    ListRemark,
    Room,
    School,
    Tag,
    Whereabouts,
)
from inventory.rules.facts import Owed, owed_on_arrival
from inventory.rules.intake.judge import RowJudgement, RowState, conflicts
from inventory.rules.intake.row import fit_options, notes_of, remarks_of
from inventory.rules.readiness import ReadinessFacts, readiness
from inventory.selectors.importing import import_schools, known_fleet
from inventory.selectors.standing import standing_for
from inventory.selectors.state import State
from inventory.services.following import instruments_changed
from inventory.services.importing.numbering import give_numbers, give_rooms
from inventory.services.importing.staging import forget_file
from inventory.services.registering import accessories_for, new_token
from inventory.services.state import hold_new, lock_instruments

NAMED = 5  # rows that a refusal names
READY_AT_ONCE = 500  # rows made ready between two words about how far it is
LONGEST_NOTES = 10_000
LONGEST_REMARK = 400
WRITTEN = (Instrument, Accessory, Custody, Tag)  # in this order
KEYED = {Instrument, Tag}  # with keys known before, because other rows and events name them
# What a row says that goes into the instrument as it stands: key of the value -> column of the model.
AS_IT_STANDS = {
    column.key: column.name
    for column in COLUMNS
    if column.reads and column.name not in {"asset_number", "kind_code", "school", "room", "notes"}
}


class Published(NamedTuple):
    """How many instruments were written; none where the same list had been published before.

    ``transaction_s`` is how many seconds others had to wait with their own writing. ``is_repeated``: it had been.
    """

    written: int
    transaction_s: float = 0.0
    is_repeated: bool = False


class Vouched(NamedTuple):
    """What whoever confirms a list says of all of it.

    ``out`` are rows of instruments that are with somebody already: they owe nothing until they come back.
    """

    trusted_until: date | None = None  # the last day on which they may go out without an inspection
    cleaned_on: date | None = None
    cleaned_by: str = ""
    out: Collection[int] = frozenset()


NOT_VOUCHED = Vouched()
Follow = Callable[[Mapping[int, Instrument]], None]  # what else is written of the instruments, by their rows


@dataclass(slots=True)
class Prepared:
    """One row on its way into the register. ``number`` and ``room`` are as the row says, "" where it says none."""

    row: int
    instrument: Instrument
    number: str
    room: str
    donor: str
    remarks: list[str]
    cleaned: frozenset[Owed] = frozenset()  # the cleaning it would have owed
    tag: int = 0  # the key its tag will have
    values: dict[str, Any] = field(default_factory=dict)  # as its event holds them, but for number and room
    texts: Texts = field(default_factory=dict)


@dataclass(slots=True)
class _Rows:
    """What is written, as the database takes it, made ready before anybody has to wait."""

    prepared: list[Prepared] = field(default_factory=list)
    by_model: dict[type[Model], list[list[Any]]] = field(default_factory=lambda: {model: [] for model in WRITTEN})


def publish_import(
    *,
    batch: ImportBatch,
    actor: User | None,
    at: datetime,
    today: date,
    make_token: Callable[[], str] = new_token,
    vouched: Vouched = NOT_VOUCHED,
    follow: Follow | None = None,
    registered: Collection[Instrument] = (),
) -> Published:
    """Write every new row of a judged list, or raise RefusedError and write nothing.

    ``follow`` writes in the same transaction what follows of the instruments: who has them. It may be all that there
    is to write: ``registered`` are those among them that were there before.

    ``make_token`` gives each its tag; a district that is made the same twice draws its own. Numbers and serials are
    compared with the register once more inside the transaction. A second confirmation of the same list writes nothing.
    """
    batch = ImportBatch.objects.select_related("school").get(pk=batch.pk)
    judged = [
        RowJudgement(number, RowState.NEW, values, fingerprint)
        for number, values, fingerprint in ImportRow.objects.filter(batch=batch, state=ImportRow.State.NEW)
        .order_by("number")
        .values_list("number", "values", "fingerprint")
    ]
    batch.refresh_from_db(fields=["state"])  # it may have been published, and its rows emptied, while they were read
    if batch.state == ImportBatch.State.PUBLISHED:
        return Published(0, is_repeated=True)
    if batch.state != ImportBatch.State.JUDGED:
        raise RefusedError(gettext("Not every row has been checked yet."))
    if not judged and not registered:
        raise RefusedError(gettext("There is nothing new to import."))
    schools = {school.code: school for school in import_schools(actor)}
    rows = _Rows()
    coming = (prepared(one, schools=schools, at=at, vouched=vouched) for one in judged)
    for ready in _make_ready(
        coming, keys=[reserve_keys(model, count=len(judged)) for model in (Instrument, Tag)], into=rows, actor=actor,
        at=at, token=make_token,
    ):  # fmt: skip
        report_progress(ready, len(judged), phase=gettext("Step 1 of 2: getting ready"))
    report_progress(phase=gettext("Step 2 of 2: saving all of them, or none"))
    begun = _publish(
        batch=batch, judged=judged, rows=rows, schools=schools.values(), actor=actor, at=at, today=today,
        vouched=vouched, follow=follow, registered=registered,
    )  # fmt: skip
    if begun is None:
        return Published(0, is_repeated=True)
    return Published(len(rows.prepared), transaction_s=perf_counter() - begun)


@service
def _publish(
    *,
    batch: ImportBatch,
    judged: list[RowJudgement],
    rows: _Rows,
    schools: Collection[School],
    actor: User | None,
    at: datetime,
    today: date,
    vouched: Vouched,
    follow: Follow | None,
    registered: Collection[Instrument],
) -> float | None:
    """Write what was made ready, and return when that began; None where somebody else has published the list.

    Of two who register the same number at the same moment, one finds it taken when it is tried again.
    """
    begun = perf_counter()
    lock_instruments(*registered)  # before the list, as every act does
    waiting = ImportBatch.objects.filter(pk=batch.pk, state=ImportBatch.State.JUDGED)
    as_judged = waiting.filter(mapping=batch.mapping, rows_judged=batch.rows_judged, answers=batch.answers)
    told = {"trusted_until": vouched.trusted_until, "cleaned_on": vouched.cleaned_on, "cleaned_by": vouched.cleaned_by}
    if not as_judged.update(state=ImportBatch.State.PUBLISHED, published_at=at, answers={}, **told):
        if ImportBatch.objects.filter(pk=batch.pk, state=ImportBatch.State.PUBLISHED).exists():
            return None
        raise RefusedError(
            gettext("The list changed while you were looking at it. Nothing was imported. Look at it again.")
        )
    _refuse_conflicts(judged, schools)
    _write(batch, rows, vouched, actor=actor, at=at, today=today)
    if follow is not None:
        for one in rows.prepared:
            hold_new(one.instrument)
        follow({one.row: one.instrument for one in rows.prepared})
    # What people wrote stays only where it has to be put right.
    batch.rows.exclude(state=ImportRow.State.PROBLEM).update(cells=[], values={}, remarks={})
    transaction.on_commit(lambda: forget_file(batch=batch))
    return begun


def _refuse_conflicts(judged: list[RowJudgement], schools: Iterable[School]) -> None:
    found = list(conflicts(rows=judged, known=known_fleet(schools)))
    if not found:
        return
    named = [problem.sentence for problem in found[:NAMED]]
    if (more := len(found) - NAMED) > 0:
        named.append(ngettext("%(count)d more row does too.", "%(count)d more rows do too.", more) % {"count": more})
    raise RefusedError(
        gettext(
            "Instruments have changed since the list was checked, so nothing was imported. %(rows)s Check it again."
        )
        % {"rows": " ".join(named)}
    )


# Making ready


def prepared(
    row: RowJudgement, *, schools: Mapping[str, School], at: datetime, vouched: Vouched = NOT_VOUCHED
) -> Prepared:
    """Turn a judged row into an unsaved instrument. Raises RefusedError for a school or kind that is not there."""
    values, kind = row.values, catalog().kinds.get(row.values["kind"])
    if kind is None:
        gone = gettext("Row %(row)d: the catalog no longer has %(kind)s. Check the list again.")
        raise RefusedError(gone % {"row": row.number, "kind": values["kind"]})
    if values["school"] not in schools:
        other = gettext("Row %(row)d belongs to a school you may not import for.")
        raise RefusedError(other % {"row": row.number})
    options, left = fit_options(values, options=kind.options, key=kind.key)
    instrument = Instrument(
        kind_code=kind.code,
        options=options,
        school=schools[values["school"]],
        notes=notes_of(values, left=left, most=LONGEST_NOTES),
        registered_at=at,
        fingerprint=row.fingerprint,
        trusted_until=vouched.trusted_until,
        **{name: values[key] for key, name in AS_IT_STANDS.items() if key in values},
    )
    owed = owed_on_arrival(
        acquired_by=instrument.acquired_by, touches_mouth=bool(instrument.kind.between_players()), is_imported=True
    )
    cleaned = owed if vouched.cleaned_on else frozenset()
    owed = frozenset() if row.number in vouched.out else owed - cleaned
    instrument.is_hygiene_due, instrument.is_full_cleaning_due = Owed.HYGIENE in owed, Owed.FULL in owed
    told = columns_when_new(
        kind_code=kind.code, options=tuple(sorted(options.items())), owed=owed, trusted_until=vouched.trusted_until
    )
    for name, value in told.items():
        setattr(instrument, name, value)
    number, kept = values.get("asset_number", "").upper(), kept_of(Instrument)
    return Prepared(
        row.number,
        instrument,
        number,
        values.get("room", ""),
        values.get("donor", ""),
        remarks_of(values, longest=LONGEST_REMARK),
        cleaned,
        values=kept.values_of(instrument),
        texts=kept.texts_of(instrument),
    )


@lru_cache(maxsize=512)
def columns_when_new(
    *, kind_code: str, options: tuple[tuple[str, str], ...], owed: frozenset[Owed], trusted_until: date | None = None
) -> dict[str, Any]:
    """The stored verdict and readiness of an instrument that nobody has inspected: the same for all of its kind."""
    standing = standing_for(kind_code, dict(options), is_inspected=False)
    verdict, limits = standing.judgement.verdict.value, standing.judgement.limits
    facts = ReadinessFacts(
        verdict=verdict,
        whereabouts=Whereabouts.IN_STORE,
        stopping=[] if trusted_until else list(standing.judgement.reasons),
        limits=list(limits),
        owed=owed,
        trusted_until=trusted_until,
    )
    return State(standing, verdict, limits, readiness(facts), trusted_until, None).columns()


def _make_ready(
    coming: Iterator[Prepared],
    *,
    keys: Sequence[Iterable[int]],
    into: _Rows,
    actor: User | None,
    at: datetime,
    token: Callable[[], str],
) -> Iterator[int]:
    """Make the rows of all tables, some at a time; yield how many instruments are ready so far.

    ``keys`` are those reserved for the instruments, and for their tags.
    """
    numbered = zip(coming, *keys, strict=True)
    while some := list(islice(numbered, READY_AT_ONCE)):
        for one, key, tag in some:
            one.instrument.pk, one.tag = key, tag
        instruments = [one.instrument for one, *_ in some]
        made: dict[type[Model], Iterable[Model]] = {
            Instrument: instruments,
            Accessory: (row for instrument in instruments for row in accessories_for(instrument)),
            Custody: (
                Custody(instrument_id=instrument.pk, whereabouts=Whereabouts.IN_STORE, since=at, actor=actor)
                for instrument in instruments
            ),
            Tag: (Tag(pk=one.tag, token=token(), instrument_id=one.instrument.pk, issued_at=at) for one, *_ in some),
        }
        for model, objects in made.items():
            into.by_model[model].extend(rows_of(objects, model=model, with_key=model in KEYED))
        into.prepared.extend(one for one, *_ in some)
        yield len(into.prepared)


# Writing


def _write(batch: ImportBatch, rows: _Rows, vouched: Vouched, *, actor: User | None, at: datetime, today: date) -> None:
    give_numbers(rows.prepared)
    rooms = give_rooms(rows.prepared)
    names = [column.attname for column in columns_of(Instrument, with_key=True)]
    number_at, room_at = names.index("asset_number"), names.index("room_id")
    for one, row in zip(rows.prepared, rows.by_model[Instrument], strict=True):
        row[number_at], row[room_at] = one.instrument.asset_number, one.instrument.room_id
    for model, made in rows.by_model.items():
        insert_rows(model, made, with_key=model in KEYED)
    gifts = Donation.objects.bulk_create(
        Donation(instrument=one.instrument, donor_name=one.donor, received_on=one.instrument.acquired_on or today)
        for one in rows.prepared
        if one.donor
    )
    remarks = ListRemark.objects.bulk_create(
        ListRemark(instrument=one.instrument, said_at=at, text=text) for one in rows.prepared for text in one.remarks
    )
    instruments_changed([one.instrument.pk for one in rows.prepared])
    by = "a person" if actor else "the command"
    events = _events(batch, rows.prepared, rooms, gifts, remarks, by=by, vouched=vouched)
    record_events(actor=actor, at=at, events=events)


def _events(
    batch: ImportBatch,
    prepared: list[Prepared],
    rooms: Iterable[Room],
    gifts: Iterable[Donation],
    remarks: Iterable[ListRemark],
    *,
    by: str,
    vouched: Vouched,
) -> Iterator[NewEvent]:
    days = {name: day for name, day in vouched._asdict().items() if name in {"trusted_until", "cleaned_on"} and day}
    counted = {"rows": len(prepared), "sha256": batch.sha256, "by": by, **days}
    yield NewEvent("imported", batch, tenant=batch.school_id, after=counted)
    for room in rooms:
        yield NewEvent("room_added", room, tenant=room.school_id)
    for one in prepared:
        instrument = one.instrument
        after = one.values | {"asset_number": instrument.asset_number, "import": batch.pk, "row": one.row, "by": by}
        if instrument.trusted_until:
            after["trusted_until"] = instrument.trusted_until
        if instrument.room_id is not None:
            after["room"] = instrument.room_id
        yield NewEvent("registered", instrument, instrument.thread, instrument.school_id, after=after, texts=one.texts)
        told = {"tag": one.tag, "accessory": "", NOW: {"revoked_at": None}}
        tag = Tag(pk=one.tag)
        yield NewEvent("tag_issued", tag, thread=instrument.thread, tenant=instrument.school_id, after=told)
    for one in prepared:
        if one.cleaned:
            after = {"done": sorted(one.cleaned), "on": vouched.cleaned_on, "import": batch.pk}
            yield NewEvent("cleaned", one.instrument, one.instrument.thread, one.instrument.school_id, after=after)
    kept = kept_of(Donation)
    for gift in gifts:
        instrument = gift.instrument
        yield NewEvent("gift_recorded", gift, instrument.thread, instrument.school_id, **kept.beginning(gift))
    for remark in remarks:
        yield NewEvent("list_remarked", remark, remark.instrument.thread, remark.instrument.school_id)
