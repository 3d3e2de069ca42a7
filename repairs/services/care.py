"""Recording care, and keeping the days on which it comes round again."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import current_act, service
from core.day_bounds import RECORDED
from core.events import record_event
from core.models import User
from inventory.catalog.load import catalog
from inventory.models import Instrument, School, Whereabouts
from inventory.selectors.state import CHUNK
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument, lock_instruments
from repairs.exceptions import CareRefusedError
from repairs.models import CareDone, CareNext
from repairs.rules.care import care_dates, intervals_for
from repairs.selectors.care import care_differences, care_facts


def care_changed(keys: Sequence[int]) -> None:
    """Have the act that is running store, at its end, when care comes round for the instruments with these keys.

    Called by whatever changes it: registering, options, care recorded or undone, work done at the bench.
    """
    act = current_act()
    changed: set[int] = act.memory.setdefault("care", set())
    changed.update(keys)

    def keep() -> None:
        waiting = sorted(changed)
        for start in range(0, len(waiting), CHUNK):
            keep_care_dates(waiting[start : start + CHUNK])

    act.at_end("care", keep)


def keep_care_dates(keys: Collection[int]) -> None:
    """Store when care comes round. Five queries, six where some care is asked for no more.

    An act that takes stock calls this itself before it: stock is locked after an instrument's own rows.
    """
    rows = list(Instrument.objects.filter(pk__in=keys))
    dates = {row.pk: care_dates(facts, catalog=catalog()) for row, facts in zip(rows, care_facts(rows), strict=True)}
    wanted = {(pk, one.code) for pk, found in dates.items() for one in found}
    over = [
        pk
        for pk, *key in CareNext.objects.filter(instrument__in=rows).values_list("pk", "instrument_id", "code")
        if tuple(key) not in wanted
    ]
    if over:
        CareNext.objects.filter(pk__in=over).delete()
    CareNext.objects.bulk_create(
        (
            CareNext(instrument_id=pk, code=one.code, last_on=one.last_on, much_on=one.much_on, idle_on=one.idle_on)
            for pk, found in dates.items()
            for one in found
        ),
        update_conflicts=True,
        unique_fields=["instrument", "code"],
        update_fields=["last_on", "much_on", "idle_on"],
    )


@service
def refresh_all_care(*, because: str, actor: User | None, at: datetime) -> int:
    """Store every day of care that no longer follows from the facts; return how many instruments changed.

    One event at each school records why; sums that other processes keep of the school follow it.
    """
    keys = sorted({pk for pk, _ in care_differences()})
    chunks = [keys[start : start + CHUNK] for start in range(0, len(keys), CHUNK)]
    by_school: dict[School, int] = {}
    for chunk in chunks:
        for row in lock_instruments(*chunk):
            by_school[row.school] = by_school.get(row.school, 0) + 1
    for chunk in chunks:
        keep_care_dates(chunk)
    for school, count in by_school.items():
        after = {"because": because, "instruments": count}
        record_event(actor=actor, act="refreshed", subject=school, at=at, tenant=school.pk, after=after)
    return len(keys)


@service
def record_care(*, instrument: Instrument, code: str, done_on: date, actor: User, at: datetime) -> CareDone:
    """Keep that a piece of care was done to it. The same care on the same day again is the same row.

    Raises CareRefusedError for care its kind does not need, for a day in the future or long past, and for what the
    district no longer has.
    """
    fresh = lock_instrument(instrument)
    today = timezone.localdate(at)
    intervals = {one.code: one for one in intervals_for(kind=fresh.kind, options=fresh.options, catalog=catalog())}
    if code not in intervals:
        raise CareRefusedError(gettext("%(instrument)s does not need that kind of care.") % {"instrument": fresh})
    if fresh.whereabouts in (Whereabouts.GONE, Whereabouts.NOT_FOUND):
        names = {"instrument": fresh, "where": fresh.get_whereabouts_display().lower()}
        raise CareRefusedError(gettext("%(instrument)s is %(where)s, so nobody can have done that.") % names)
    RECORDED.check(done_on, today=today, refusal=CareRefusedError)
    known = CareDone.objects.standing().filter(instrument=fresh, code=code, done_on=done_on).first()
    if known is not None:  # two people noted the same tray
        return known
    row = CareDone.objects.create(instrument=fresh, code=code, done_on=done_on, recorded_at=at, actor=actor)
    log_event(instrument=fresh, act="care_done", subject=row, after={"care": code, "done_on": done_on})
    care_changed([fresh.pk])
    return row


def _as_recorded(
    _row: None, *, instruments: list[Instrument], code: str, done_on: date, **_posted: Any
) -> list[CareDone]:
    """What the same form recorded when it was posted before; RefusedError if that was undone since."""
    rows = list(CareDone.objects.standing().filter(instrument__in=instruments, code=code, done_on=done_on))
    if not rows:
        raise CareRefusedError(gettext("What this form recorded was undone since. Open the page again."))
    return rows


@service(once="nonce", again=_as_recorded)
def record_care_of_many(
    *,
    instruments: list[Instrument],
    code: str,
    done_on: date,
    actor: User,
    at: datetime,
    nonce: UUID | None = None,
) -> list[CareDone]:
    """Keep the same care of several instruments, all or none. Raises CareRefusedError if none is named."""
    if not instruments:
        raise CareRefusedError(gettext("Choose the instruments it was done to."))
    lock_instruments(*instruments)
    noted = CareDone.objects.standing().filter(instrument__in=instruments, code=code, done_on=done_on)
    known = {row.instrument_id: row for row in noted}  # the form was posted twice
    return [
        known.get(one.pk) or record_care(instrument=one, code=code, done_on=done_on, actor=actor, at=at)
        for one in instruments
    ]


@service
def withdraw_care(*, care: CareDone, actor: User, at: datetime) -> None:
    """Undo what was entered by mistake; a second time changes nothing."""
    lock_instrument(care.instrument_id)
    changed = CareDone.objects.filter(pk=care.pk, withdrawn_at=None).update(withdrawn_at=at)
    if changed:
        log_event(
            instrument=care.instrument,
            act="care_withdrawn",
            subject=care,
            after={"care": care.code, "done_on": care.done_on},
        )
        care_changed([care.instrument_id])
