"""Where an instrument is and what state it is in: the only place that writes either."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from django.utils.translation import gettext

from core.acts import current_act, service
from core.events import already
from core.models import User
from inventory.exceptions import InstrumentUnavailableError
from inventory.models import Custody, Instrument, Whereabouts
from inventory.selectors.state import CHUNK, states_of
from inventory.services.event_log import log_event


def lock_instruments(*instruments: Instrument | int) -> list[Instrument]:
    """The rows as they are now, locked until the act ends; one act has one object for each, kept in step by ``write``.

    An act that touches several names all of them at once: they are locked in the order of their keys, before any other
    row. SQLite has no row locks; there one writer at a time is in its transaction from its beginning.
    """
    rows = current_act().rows
    keys = [one if isinstance(one, int) else one.pk for one in instruments]
    # Twice: PostgreSQL, having waited for somebody who moved one to another school, joins it to the school of before,
    # and leaves it out.
    for _ in range(2):
        if missing := {key for key in keys if (Instrument, key) not in rows}:
            locked = Instrument.objects.select_for_update(of=("self",), no_key=True).select_related("school")
            rows |= {(Instrument, row.pk): row for row in locked.filter(pk__in=missing).order_by("pk")}
    return [cast("Instrument", rows[Instrument, key]) for key in keys]


def lock_instrument(instrument: Instrument | int) -> Instrument:
    return lock_instruments(instrument)[0]


def hold_new(instrument: Instrument) -> None:
    """Take a row that this act has just inserted as locked: nobody else sees it before the act ends."""
    current_act().rows[Instrument, instrument.pk] = instrument


def write(*rows: Instrument, **columns: Any) -> None:
    """Write these columns, the same for each, and no other, of rows that this act has locked."""
    Instrument.objects.filter(pk__in=[row.pk for row in rows]).update(**columns)
    for row in rows:
        for name, value in columns.items():
            setattr(row, name, value)


@service
def refresh_state(*, instrument: Instrument, actor: User | None, at: datetime) -> None:
    """Have verdict and readiness stored again when the act ends; called by every service that changes a fact."""
    row = lock_instrument(instrument)
    act = current_act()
    act.memory.setdefault(_Stale, {}).setdefault(row.pk, _Stale(row, row.verdict, row.readiness)).is_stale = True
    act.at_end(refresh_state, _refresh_all)


def state_now(instrument: Instrument) -> Instrument:
    """The row with its state as the act has made it so far, for what has to know before the act ends."""
    row = lock_instrument(instrument)
    stale = current_act().memory.get(_Stale, {}).get(row.pk)
    if stale is not None and stale.is_stale:
        _store_state([stale])
    return row


@dataclass(slots=True)
class _Stale:
    """An instrument that the act has changed a fact of, and what was stored before the act."""

    row: Instrument
    verdict: str
    readiness: str
    is_stale: bool = True


def _store_state(stale: Sequence[_Stale]) -> None:
    for start in range(0, len(stale), CHUNK):
        chunk = stale[start : start + CHUNK]
        states = states_of(one.row for one in chunk)
        alike: dict[str, tuple[dict[str, Any], list[Instrument]]] = {}  # what many have in common is written once
        for one in chunk:
            columns = states[one.row.pk].columns()
            changed = {name: value for name, value in columns.items() if getattr(one.row, name) != value}
            if changed:
                alike.setdefault(repr(changed), (changed, []))[1].append(one.row)
            one.is_stale = False
        for changed, rows in alike.values():
            write(*rows, **changed)


def _refresh_all() -> None:
    """Store what is still stale, and write one event for each instrument whose verdict or readiness changed."""
    touched: dict[int, _Stale] = current_act().memory.pop(_Stale)
    if stale := [one for one in touched.values() if one.is_stale]:
        _store_state(stale)
    for one in touched.values():
        before = {"verdict": one.verdict, "readiness": one.readiness}
        after = {"verdict": one.row.verdict, "readiness": one.row.readiness}
        if before != after:
            log_event(instrument=one.row, act="judged", before=before, after=after)


@service
def keep_for_parts(*, instrument: Instrument, is_parts_instrument: bool, actor: User | None, at: datetime) -> None:
    """Keep it for parts, so that it cannot be lent, or undo that; refused when somebody else did it first."""
    row = lock_instrument(instrument)
    if row.is_parts_instrument == is_parts_instrument:
        if is_parts_instrument:
            words = gettext("%(number)s is already kept for parts. Nothing was changed.")
        else:
            words = gettext("%(number)s is not kept for parts. Nothing was changed.")
        words %= {"number": instrument.asset_number}
        raise InstrumentUnavailableError(already(words, subject=row, acts=["parts_horn", "no_parts_horn"]))
    write(row, is_parts_instrument=is_parts_instrument)
    refresh_state(instrument=row, actor=actor, at=at)


@service
def retire(*, instrument: Instrument, is_retired: bool, actor: User | None, at: datetime) -> None:
    """Take it out of use, so that it cannot be lent, or put it back; nothing where that is so already."""
    row = lock_instrument(instrument)
    if row.is_retired != is_retired:
        write(row, is_retired=is_retired)
        log_event(instrument=row, act="retired" if is_retired else "no_longer_retired")
        refresh_state(instrument=row, actor=actor, at=at)


@service
def move_instrument(
    *, instrument: Instrument, expected: str, to: str, actor: User | None, at: datetime, reference: str = ""
) -> None:
    """Set the whereabouts, unless somebody else has changed them first.

    The conditional update and the partial unique constraint on the open custody span hold on SQLite and
    PostgreSQL alike. Raises InstrumentUnavailableError and writes nothing.
    """
    move_instruments(references={instrument: reference}, expected=expected, to=to, actor=actor, at=at)


@service
def move_instruments(
    *, references: Mapping[Instrument, str], expected: str, to: str, actor: User | None, at: datetime
) -> None:
    """The same for many, all or none of them; ``references`` say what each is moved for."""
    rows = dict(zip(lock_instruments(*references), references.values(), strict=True))
    keys = [row.pk for row in rows]
    moved = Instrument.objects.filter(pk__in=keys, whereabouts=expected).update(whereabouts=to)
    if moved < len(rows):
        row = next((one for one in rows if one.whereabouts != expected), next(iter(rows)))
        words = gettext("%(number)s is no longer %(place)s. Somebody else changed it first; nothing was changed.")
        words %= {"number": row.asset_number, "place": Whereabouts(expected).label.lower()}
        raise InstrumentUnavailableError(already(words, subject=row, acts=["moved"]))
    Custody.objects.filter(instrument__in=keys, until=None).update(until=at)
    Custody.objects.bulk_create(
        Custody(instrument=row, whereabouts=to, since=at, reference=reference, actor=actor)
        for row, reference in rows.items()
    )
    for row, reference in rows.items():
        row.whereabouts = to
        after = {"whereabouts": to, "reference": reference}
        log_event(instrument=row, act="moved", before={"whereabouts": expected}, after=after)
        refresh_state(instrument=row, actor=actor, at=at)
