"""Reads for give-back: what was scanned, what came back a moment ago, what waits on the pile."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, time
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from desk.selectors.finding_instruments import instruments_matching, tag_for
from inventory.models import Instrument, ProblemReport, School, schools_of
from loans.models import Loan, LoanQuerySet
from loans.selectors.lending import open_loan_of, open_loans

TAKE_BACK = "loans.return_instrument"
INSPECT = "inventory.inspect_instrument"
SHOWN = 40  # of what came back today


@dataclass(frozen=True, slots=True)
class Scanned:
    """What a scan or a typed number means: the open loan to take back, or why there is none."""

    loan: Loan | None = None
    instrument: Instrument | None = None  # the only one that fits
    several: tuple[Instrument, ...] = ()
    owner: School | None = None  # of a tag of a school where the user sees nothing; its public page names it too
    lent_elsewhere: bool = False  # by a school where the user takes nothing back
    last: Loan | None = None  # the latest that came back, where it is not out


def scanned(user: Any, text: str) -> Scanned:
    found = instruments_matching(user, text)
    if not found:
        tag = tag_for(text)
        return Scanned(owner=tag.instrument.school if tag else None)
    if len(found) > 1:
        return Scanned(several=tuple(found))
    instrument = found[0]
    loan = open_loans().visible_to(user, TAKE_BACK).filter(instrument=instrument).first()
    if loan is not None:
        return Scanned(loan=loan, instrument=instrument)
    mine = Loan.objects.visible_to(user, TAKE_BACK).filter(instrument=instrument, returned_at__isnull=False)
    return Scanned(
        instrument=instrument,
        lent_elsewhere=open_loan_of(instrument) is not None,
        last=mine.select_related("returned_to").order_by("-returned_at").first(),
    )


def back_today(user: Any, *, now: datetime) -> LoanQuerySet:
    """Return what the user took back today, the latest first."""
    morning = timezone.make_aware(datetime.combine(timezone.localdate(now), time.min))
    rows = Loan.objects.visible_to(user, TAKE_BACK).filter(returned_to=user, returned_at__gte=morning, is_lost=False)
    return rows.not_renewed().for_table().order_by("-returned_at", "-pk")


def reports_on(user: Any, instruments: Collection[int]) -> dict[int, ProblemReport]:
    """Return by instrument the latest problem that was reported, confirmed and not answered yet. One query."""
    rows = ProblemReport.objects.visible_to(user, "inventory.handle_report").confirmed()
    return {
        report.instrument_id: report for report in rows.filter(instrument__in=instruments).order_by("said_at", "pk")
    }


def to_inspect(user: Any) -> QuerySet[Loan]:
    """Return the loans whose instruments came back and wait to be inspected, in the order they came."""
    schools = schools_of(user, INSPECT)
    rows = Loan.objects.to_inspect().filter(instrument__school__in=schools)
    return rows.select_related("instrument__school", "instrument__room").order_by("returned_at", "pk")
