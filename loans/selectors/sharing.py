"""Who uses what stays in the room, and in which class."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from django.utils.translation import gettext

from inventory.models import Instrument, InstrumentQuerySet, School
from loans.models import ClassPeriod, Seat, SharedUse
from loans.selectors.seats import BY_NAME

IN_ORDER = ("period__place", "period__name", "period_id")


@dataclass(frozen=True, slots=True)
class PeriodLine:
    """A class in which the kind is played: its seats, and whose use this instrument is there (a seat's key)."""

    period: ClassPeriod
    seats: list[Seat]
    used_by: int | None


def uses_of(instrument: Instrument) -> list[SharedUse]:
    """Return who uses the instrument, by class. One query."""
    rows = SharedUse.objects.open().filter(instrument=instrument)
    return list(rows.select_related("period", "seat__student").order_by(*IN_ORDER))


def why_shared(instrument: Instrument) -> str:
    """Return why an instrument that is shared may not be lent by itself, or ""."""
    return why_each_is_shared([instrument.pk]).get(instrument.pk, "")


def why_each_is_shared(instruments: Collection[int]) -> dict[int, str]:
    """Return for each of these instruments that is shared why it may not be lent by itself. One query."""
    rows = SharedUse.objects.open().filter(instrument__in=instruments).select_related("period", "instrument")
    uses: dict[int, list[SharedUse]] = {}
    for use in rows.order_by(*IN_ORDER):
        uses.setdefault(use.instrument_id, []).append(use)
    words = gettext(
        "%(number)s stays in the room: it is shared in %(classes)s. Lend another, or end its sharing first."
    )
    return {
        pk: words % {"number": mine[0].instrument.asset_number, "classes": ", ".join(use.period.name for use in mine)}
        for pk, mine in uses.items()
    }


def without_shared(instruments: InstrumentQuerySet) -> InstrumentQuerySet:
    """Leave out what stays in the room because it is shared."""
    return instruments.exclude(pk__in=SharedUse.objects.open().order_by().values("instrument"))


def shared_at(school: School) -> list[SharedUse]:
    """Return all that is shared at the school, by class and name. One query."""
    rows = SharedUse.objects.open().filter(period__school=school)
    return list(
        rows.select_related("period", "instrument", "seat__student").order_by(
            *IN_ORDER, *(f"seat__{name}" for name in BY_NAME)
        )
    )


def period_lines(instrument: Instrument) -> list[PeriodLine]:
    """Return the classes of the school where its kind is played. Two queries."""
    seats = Seat.objects.open().filter(period__school=instrument.school_id, kind_code=instrument.kind_code)
    used = dict(SharedUse.objects.open().filter(instrument=instrument).order_by().values_list("period_id", "seat_id"))
    lines: dict[int, PeriodLine] = {}
    for seat in seats.select_related("student", "period").order_by(*IN_ORDER, *BY_NAME):
        if seat.period is not None:
            line = lines.setdefault(seat.period.pk, PeriodLine(seat.period, [], used.get(seat.period.pk)))
            line.seats.append(seat)
    return list(lines.values())
