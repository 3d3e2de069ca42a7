"""An instrument that stays in the room and is used by one student in each class period."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import service
from core.models import User
from inventory.models import Instrument, Whereabouts
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument
from loans.exceptions import SeatRefusedError
from loans.models import Seat, SharedUse


@service
def share_instrument(*, instrument: Instrument, seats: Mapping[int, int | None], actor: User, at: datetime) -> int:
    """Say who uses the instrument in these class periods; return how many changed.

    ``seats`` maps a period's key to the key of a seat in it that plays this kind, or to None for nobody.
    """
    row = lock_instrument(instrument)
    if row.whereabouts in {Whereabouts.WITH_STUDENT, Whereabouts.GONE} and any(seats.values()):
        words = _("%(number)s is %(where)s. What is shared stays in the room.")
        where = str(Whereabouts(row.whereabouts).label).lower()
        raise SeatRefusedError(words % {"number": row.asset_number, "where": where})
    today, changed = timezone.localdate(at), 0
    wanted = {seat.pk: seat for seat in _seats(row, seats)}
    there = {use.period_id: use for use in SharedUse.objects.filter(instrument=row, period__in=seats, until=None)}
    for period, key in seats.items():
        use = there.get(period)
        if (use.seat_id if use else None) == key:
            continue
        if use is not None:
            _end(use, row, at=at)
        if key is not None:
            seat = wanted.get(key)
            if seat is None or seat.period_id != period:
                raise SeatRefusedError(_("Only somebody who plays this kind in that class can use it there."))
            made = SharedUse.objects.create(instrument=row, seat=seat, period_id=period, since=today)
            after = {"seat": seat.pk, "period": period, "since": today}
            log_event(instrument=row, act="shared", subject=made, after=after)
        changed += 1
    return changed


def _seats(instrument: Instrument, seats: Mapping[int, int | None]) -> list[Seat]:
    """Return the seats that are wanted, without what they shared before: who changes over is in one place only."""
    keys = [key for key in seats.values() if key is not None]
    rows = Seat.objects.open().filter(pk__in=keys, kind_code=instrument.kind_code, period__school=instrument.school_id)
    elsewhere = SharedUse.objects.filter(seat__in=keys, until=None).exclude(instrument=instrument)
    if taken := elsewhere.select_related("instrument").first():
        words = _("One of them already uses %(number)s in that class. Change it there first.")
        raise SeatRefusedError(words % {"number": taken.instrument.asset_number})
    return list(rows.select_for_update(of=("self",), no_key=True).order_by("pk"))


def move_sharing(*, away: Instrument, kept: Instrument, at: datetime) -> None:
    """Let whoever uses ``away`` in class use ``kept``. Called within the act that merges the two, which are locked.

    A use ends where somebody uses ``kept`` in that class, or where ``kept`` is of another kind.
    """
    rows = SharedUse.objects.filter(instrument__in=[away, kept], until=None)
    in_use = set(SharedUse.objects.open().filter(instrument__in=[away, kept]).values_list("pk", flat=True))
    there = {use.period_id: use for use in rows if use.instrument_id == kept.pk}
    for use in [use for use in rows if use.instrument_id == away.pk]:
        rival = there.get(use.period_id)
        if use.pk not in in_use or away.kind_code != kept.kind_code or (rival and rival.pk in in_use):
            _end(use, away, at=at)
            continue
        if rival is not None:
            _end(rival, kept, at=at)
        _move(use, kept, seat=use.seat_id)


def move_use(*, seat: Seat, to: Seat, at: datetime) -> None:
    """Let the use of one seat be the other's, in the same class; it ends where that has one. Called within a merging."""
    has = SharedUse.objects.filter(seat=to, until=None).exists()
    for use in SharedUse.objects.filter(seat=seat, until=None):
        instrument = lock_instrument(use.instrument_id)
        if has:
            _end(use, instrument, at=at)
        else:
            _move(use, instrument, seat=to.pk)


def _move(use: SharedUse, instrument: Instrument, *, seat: int) -> None:
    SharedUse.objects.filter(pk=use.pk).update(instrument=instrument, seat=seat)
    log_event(instrument=instrument, act="sharing_moved", subject=use, after={"seat": seat})


def _end(use: SharedUse, instrument: Instrument, *, at: datetime) -> None:
    until = max(timezone.localdate(at), use.since)
    SharedUse.objects.filter(pk=use.pk).update(until=until)
    log_event(instrument=instrument, act="sharing_ended", subject=use, after={"until": until})
