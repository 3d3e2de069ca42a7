"""Ensembles, class periods, and who plays what in them. Events hold codes and keys; names are in the rows alone."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any, TypedDict
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.events import record_event
from core.models import User
from core.traces import as_left
from inventory.catalog.load import catalog
from inventory.models import School
from inventory.services.checking import check_row, save_columns
from loans.exceptions import SeatRefusedError
from loans.models import ClassPeriod, Ensemble, Seat, Student

ENSEMBLE = ("level", "priority", "is_active")
PERIOD = ("ensemble_id", "place", "is_active")
SEAT = ("kind_code", "size", "level", "is_own", "until")


class SeatFacts(TypedDict, total=False):
    """What may be said of a seat; what is left out stays."""

    kind_code: str
    size: str
    level: str
    is_own: bool


@service(once="nonce")
def add_ensemble(
    *,
    school: School,
    name: str,
    level: str,
    priority: int,
    actor: User | None,
    at: datetime,
    nonce: UUID | None = None,
) -> Ensemble:
    ensemble = Ensemble(school=school, name=_tidy(name), level=level, priority=priority)
    _check(ensemble)
    ensemble.save(force_insert=True)
    record_event(act="ensemble_added", subject=ensemble, tenant=school.pk, after=as_left(ensemble, *ENSEMBLE))
    return ensemble


@service
def change_ensemble(
    *, ensemble: Ensemble, name: str, level: str, priority: int, is_active: bool, actor: User, at: datetime
) -> Ensemble:
    """Change an ensemble. One that no longer meets keeps its seats, and they need nothing."""
    fresh = lock_row(ensemble)
    changed = save_columns(fresh, check=_check, name=_tidy(name), level=level, priority=priority, is_active=is_active)
    if changed:
        after = {"columns": changed, **as_left(fresh, *ENSEMBLE)}
        record_event(act="ensemble_changed", subject=fresh, tenant=fresh.school_id, after=after)
    return fresh


@service(once="nonce")
def add_period(
    *,
    school: School,
    name: str,
    place: int,
    actor: User | None,
    at: datetime,
    ensemble: Ensemble | None = None,
    sourced_id: str = "",
    nonce: UUID | None = None,
) -> ClassPeriod:
    period = ClassPeriod(school=school, name=_tidy(name), place=place, ensemble=ensemble, sourced_id=sourced_id)
    _check_period(period)
    period.save(force_insert=True)
    record_event(act="period_added", subject=period, tenant=school.pk, after=as_left(period, *PERIOD))
    return period


@service
def change_period(
    *,
    period: ClassPeriod,
    name: str,
    place: int,
    ensemble: Ensemble | None,
    is_active: bool,
    actor: User | None,
    at: datetime,
) -> ClassPeriod:
    fresh = lock_row(period)
    changed = save_columns(
        fresh, check=_check_period, name=_tidy(name), place=place, ensemble=ensemble, is_active=is_active
    )
    if changed:
        after = {"columns": changed, **as_left(fresh, *PERIOD)}
        record_event(act="period_changed", subject=fresh, tenant=fresh.school_id, after=after)
    return fresh


@service
def seat_students(
    *,
    place: ClassPeriod | Ensemble,
    students: Collection[Student],
    actor: User | None,
    at: datetime,
    kinds: Mapping[int, str] | None = None,
) -> list[Seat]:
    """Seat students who are not there yet; ``kinds`` maps a student's key to the kind they play, if it is known."""
    fresh = lock_row(place)
    home = {"period": fresh} if isinstance(fresh, ClassPeriod) else {"ensemble": fresh}
    there = set(Seat.objects.filter(**home, until=None).values_list("student_id", flat=True))
    made = []
    for student in students:
        if student.school_id != fresh.school_id or student.left_on or student.erased_at:
            raise SeatRefusedError(_("A student of another school, or one who has left, cannot be seated here."))
        if student.pk in there:
            continue
        there.add(student.pk)
        kind = (kinds or {}).get(student.pk, "")
        seat = Seat(student=student, since=timezone.localdate(at), kind_code=kind, **home)
        _check_seat(seat)
        seat.save(force_insert=True)
        after = {"student": student.pk, "ensemble": seat.ensemble_id, "period": seat.period_id, "since": seat.since}
        record_event(act="seat_taken", subject=seat, tenant=fresh.school_id, after={**after, **as_left(seat, *SEAT)})
        made.append(seat)
    return made


@service
def set_seats(
    *, place: ClassPeriod | Ensemble, seats: Mapping[int, SeatFacts], actor: User | None, at: datetime
) -> int:
    """Change seats of one class by their keys; return how many changed. Somebody else's changes to others stay."""
    fresh = lock_row(place)
    rows = fresh.seats.filter(pk__in=seats, until=None).select_related("student").order_by("pk")
    changed = 0
    for seat in rows:
        columns = save_columns(seat, check=_check_seat, **_facts(seats[seat.pk]))
        if columns:
            after = {"columns": columns, **as_left(seat, *SEAT)}
            record_event(act="seat_changed", subject=seat, tenant=fresh.school_id, after=after)
            changed += 1
    return changed


@service
def end_seats(*, place: ClassPeriod | Ensemble, seats: Collection[int], actor: User | None, at: datetime) -> int:
    """Take students out of a class by their seats' keys; return how many. What they have on loan stays on loan."""
    fresh = lock_row(place)
    today, ended = timezone.localdate(at), 0
    for seat in fresh.seats.filter(pk__in=seats, until=None).order_by("pk"):
        save_columns(seat, check=_check_seat, until=max(today, seat.since))
        record_event(act="seat_left", subject=seat, tenant=fresh.school_id, after=as_left(seat, *SEAT))
        ended += 1
    return ended


def _tidy(name: str) -> str:
    return " ".join(name.split())


def _facts(facts: SeatFacts) -> dict[str, Any]:
    """What is to be saved; a size that the kind does not come in is left out with the kind it was of."""
    saved: dict[str, Any] = dict(facts)
    if "kind_code" in saved and saved.get("size", "") not in sizes_of(saved["kind_code"]):
        saved["size"] = ""
    return saved


def sizes_of(kind_code: str) -> tuple[str, ...]:
    """Return the sizes that a kind comes in; none for most."""
    kind = catalog().kinds.get(kind_code)
    return next((option.choices for option in kind.options if option.code == "size"), ()) if kind else ()


def _check(row: Ensemble | ClassPeriod) -> None:
    check_row(row, refusal=SeatRefusedError)


def _check_period(period: ClassPeriod) -> None:
    if period.ensemble is not None and period.ensemble.school_id != period.school_id:
        raise SeatRefusedError(_("The ensemble is at another school than the class."))
    _check(period)


def _check_seat(seat: Seat) -> None:
    if seat.kind_code and seat.kind_code not in catalog().kinds:
        raise SeatRefusedError(_("That kind of instrument is not in the catalog."))
    if seat.size and seat.size not in sizes_of(seat.kind_code):
        raise SeatRefusedError(_("This kind does not come in that size."))
    check_row(seat, refusal=SeatRefusedError)
