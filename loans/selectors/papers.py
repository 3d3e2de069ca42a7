"""What goes on the signed paper, and how long the paper is kept."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q, QuerySet
from django.utils import timezone

from inventory.models import District
from inventory.rules.facts import FindingFact
from inventory.selectors.drawing import Drawn, drawn
from inventory.selectors.standing import standing_of
from loans.models import Agreement, Student
from loans.rules.due import keep_until
from loans.selectors.comparing import facts_of


@dataclass(frozen=True, slots=True)
class HandOutFacts:
    """What the paper takes from outside the loan's own row. ``drawn`` is None if nobody inspected it at hand-out."""

    district: str
    findings: tuple[FindingFact, ...]
    photos: int
    drawn: Drawn | None


def hand_out_facts(agreement: Agreement) -> HandOutFacts:
    hand_out = agreement.loan.hand_out
    facts = facts_of(hand_out)
    return HandOutFacts(
        district=District.objects.values_list("name", flat=True).first() or "",
        findings=facts,
        photos=hand_out.photos.count() if hand_out else 0,
        drawn=drawn(standing_of(agreement.loan.instrument, findings=facts, is_inspected=True)) if hand_out else None,
    )


def years_papers_are_kept() -> int | None:
    """Return how many years the district keeps signed papers after the return; None if it has not decided."""
    return District.objects.values_list("keep_papers_years", flat=True).first()


def expired_papers(*, today: date) -> Iterator[tuple[Agreement, date]]:
    """Yield papers whose files may be deleted, with the day since when, oldest first; none if no period is set."""
    years = years_papers_are_kept()
    if years is not None:
        for agreement, until in _with_last_day(_papers_of_closed_loans(), years):
            if until <= today:
                yield agreement, until


def papers_to_keep(student: Student, *, at: datetime) -> list[tuple[Agreement, date]]:
    """Return the student's papers that must still be kept, each with its last day."""
    years = years_papers_are_kept()
    if years is None:
        return []
    mine = _with_last_day(_papers_of_closed_loans().filter(loan__student=student), years)
    return [(agreement, until) for agreement, until in mine if until > timezone.localdate(at)]


def _papers_of_closed_loans() -> QuerySet[Agreement]:
    kept = ~Q(pdf="") | ~Q(scan="") | ~Q(student_signature="") | ~Q(guardian_signature="")
    ended = Agreement.objects.filter(kept, loan__returned_at__isnull=False)
    return ended.select_related("loan__instrument").order_by("loan__returned_at", "pk")


def _with_last_day(agreements: Iterable[Agreement], years: int) -> Iterator[tuple[Agreement, date]]:
    for agreement in agreements:
        if agreement.loan.returned_at is not None:
            yield agreement, keep_until(returned_on=timezone.localdate(agreement.loan.returned_at), years=years)
