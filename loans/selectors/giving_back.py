"""Reads for give-back: what should come back by a day, by class, and what is in."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import Count, Q
from django.utils import timezone

from inventory.catalog.load import catalog
from loans.models import Loan, LoanQuerySet, Seat

RETURN = "loans.return_instrument"


@dataclass(frozen=True, slots=True)
class ClassList:
    """The loans of one class; ``name`` is "" for those in none."""

    name: str
    loans: list[Loan]

    @property
    def back(self) -> int:
        return sum(loan.returned_at is not None for loan in self.loans)


def expected_back(user: Any, *, due_on: date, today: date) -> LoanQuerySet:
    """Return the loans due by then that are out, or came back since give-back began, be it ahead of the day."""
    return _out_or_lately(user, since=min(due_on, today)).filter(due_on__lte=due_on)


def _out_or_lately(user: Any, *, since: date) -> LoanQuerySet:
    days = int(catalog().settings["give_back_days"])
    began = timezone.make_aware(datetime.combine(since - timedelta(days=days), time.min))
    rows = Loan.objects.visible_to(user, RETURN).not_undone().not_renewed()
    rows = rows.filter(is_lost=False)  # given up, it does not come back
    return rows.filter(Q(returned_at=None) | Q(returned_at__gte=began))


def due_days(user: Any, *, today: date) -> list[tuple[date, int]]:
    """Return the days on which most is due, with how many loans each: of what is out, or came back lately."""
    rows = _out_or_lately(user, since=today)
    return list(rows.order_by().values_list("due_on").annotate(count=Count("pk")).order_by("-count", "-due_on")[:6])


def progress(loans: LoanQuerySet) -> tuple[int, int]:
    """Return how many are back, and of how many."""
    counts = loans.order_by().aggregate(back=Count("pk", filter=Q(returned_at__isnull=False)), all=Count("pk"))
    return counts["back"], counts["all"]


def by_class(loans: LoanQuerySet) -> list[ClassList]:
    """Return the loans by class in the order of the day, those of no class last. Two queries."""
    rows = list(loans.for_table().order_by("student__sort_name", "student_id", "instrument__asset_number"))
    seats: dict[int, list[Seat]] = defaultdict(list)
    for seat in _seats_of(rows):
        seats[seat.student_id].append(seat)
    lists: dict[tuple[int, str], list[Loan]] = defaultdict(list)
    for loan in rows:
        lists[_class_of(loan, seats[loan.student_id])].append(loan)
    return [ClassList(name, lists[place, name]) for place, name in sorted(lists)]


LAST = 1000


def _seats_of(loans: Iterable[Loan]) -> Iterable[Seat]:
    students = {loan.student_id for loan in loans}
    rows = Seat.objects.filter(until=None, student__in=students).select_related("period", "ensemble")
    return rows.order_by("period__place", "pk")


def _class_of(loan: Loan, seats: list[Seat]) -> tuple[int, str]:
    """Where the student plays what was lent; else the first class or ensemble of the day."""
    same = [seat for seat in seats if seat.kind_code == loan.instrument.kind_code]
    for seat in sorted(same or seats, key=lambda one: one.period is None):
        if seat.period is not None:
            return seat.period.place, seat.period.name
        if seat.ensemble is not None:
            return LAST - 1, seat.ensemble.name
    return LAST, ""
