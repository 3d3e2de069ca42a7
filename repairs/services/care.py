"""Recording care. The day it was done is enough: when it comes round again follows from it."""

from __future__ import annotations

from datetime import date, datetime

from django.utils import timezone

from core.acts import service
from core.models import User
from inventory.catalog.load import catalog
from inventory.models import Instrument, Whereabouts
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument, lock_instruments
from repairs.exceptions import CareRefusedError
from repairs.models import CareDone
from repairs.rules.care import intervals_for

OLDEST_YEARS = 3


@service
def record_care(*, instrument: Instrument, code: str, done_on: date, actor: User, at: datetime) -> CareDone:
    """Keep that a piece of care was done to it. The same care on the same day again is the same row.

    Raises CareRefusedError for care its kind does not ask for, for a day that has not come, for a day long past, and
    for what the district does not hold any more.
    """
    fresh = lock_instrument(instrument)
    today = timezone.localdate(at)
    asked = {one.code: one for one in intervals_for(kind=fresh.kind, options=fresh.options, catalog=catalog())}
    if code not in asked:
        raise CareRefusedError(f"{fresh}: its kind does not ask for that care.")
    if fresh.whereabouts in (Whereabouts.GONE, Whereabouts.NOT_FOUND):
        raise CareRefusedError(f"{fresh} is {fresh.get_whereabouts_display().lower()}: nobody can have done that.")
    if done_on > today:
        raise CareRefusedError("That day has not come yet.")
    if (today - done_on).days > OLDEST_YEARS * 366:
        raise CareRefusedError("That is more than three years ago. Check the year.")
    known = CareDone.objects.standing().filter(instrument=fresh, code=code, done_on=done_on).first()
    if known is not None:  # two people noted the same tray
        return known
    row = CareDone.objects.create(instrument=fresh, code=code, done_on=done_on, recorded_at=at, actor=actor)
    log_event(instrument=fresh, act="care_done", subject=row, after={"care": code, "done_on": done_on})
    return row


@service
def record_care_of_many(
    *, instruments: list[Instrument], code: str, done_on: date, actor: User, at: datetime
) -> list[CareDone]:
    """Keep the same care of several instruments, all or none. Raises CareRefusedError if none is named."""
    if not instruments:
        raise CareRefusedError("Tick the instruments it was done to.")
    lock_instruments(*instruments)
    noted = CareDone.objects.standing().filter(instrument__in=instruments, code=code, done_on=done_on)
    known = {row.instrument_id: row for row in noted}  # the form was posted twice
    return [
        known.get(one.pk) or record_care(instrument=one, code=code, done_on=done_on, actor=actor, at=at)
        for one in instruments
    ]


@service
def withdraw_care(*, care: CareDone, actor: User, at: datetime) -> None:
    """Take back what was entered by mistake; a second time changes nothing."""
    lock_instrument(care.instrument_id)
    changed = CareDone.objects.filter(pk=care.pk, withdrawn_at=None).update(withdrawn_at=at)
    if changed:
        log_event(
            instrument=care.instrument,
            act="care_withdrawn",
            subject=care,
            after={"care": care.code, "done_on": care.done_on},
        )
