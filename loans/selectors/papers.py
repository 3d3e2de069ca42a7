"""What the signed paper says, and how long it is kept."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import Q, QuerySet
from django.utils import timezone

from inventory.models import District, Verdict
from inventory.selectors.drawing import Drawn, drawn
from inventory.selectors.standing import standing_of
from loans.models import Agreement, Student
from loans.rules.due import keep_until
from loans.selectors.comparing import facts_in_words


@dataclass(frozen=True, slots=True)
class AgreementPaper:
    """All that the signed paper says. Signatures are PNG bytes, empty where it was signed on paper."""

    district: str
    school: str
    student: str
    grade: str
    guardian: str
    asset_number: str
    kind: str
    maker: str
    model: str
    serial: str
    verdict: str
    findings: tuple[str, ...]
    limits: tuple[str, ...]
    limits_reason: str
    accessories: tuple[tuple[str, int], ...]
    replacement_amount: Decimal | None
    lent_on: date
    due_on: date
    lent_by: str
    terms: str
    terms_version: int
    signed: str
    signed_at: datetime
    guardian_signer: str
    photos: int
    drawn: Drawn | None = None  # as it stood at hand-out; None where nobody inspected it
    student_signature: bytes = b""
    guardian_signature: bytes = b""


def agreement_paper(agreement: Agreement) -> AgreementPaper:
    """Read what the paper says from the rows of the loan, as they stood at hand-out."""
    loan = agreement.loan
    instrument, student, hand_out = loan.instrument, loan.student, loan.hand_out
    facts = hand_out.findings.all().facts() if hand_out else ()
    district = District.objects.first()
    return AgreementPaper(
        district=district.name if district else "",
        school=instrument.school.name,
        student=student.name,
        grade=student.grade,
        guardian=student.guardian_name,
        asset_number=instrument.asset_number,
        kind=instrument.kind.name,
        maker=instrument.maker,
        model=instrument.model,
        serial=instrument.serial,
        verdict=Verdict(hand_out.verdict).label if hand_out and hand_out.verdict else Verdict.NOT_INSPECTED.label,
        findings=facts_in_words(instrument, facts),
        limits=tuple(loan.limits),
        limits_reason=loan.limits_reason,
        accessories=tuple((row["name"], row["count"]) for row in loan.accessories),
        replacement_amount=loan.replacement_amount,
        lent_on=loan.lent_on,
        due_on=loan.due_on,
        lent_by=loan.actor.name,
        terms=agreement.terms.text,
        terms_version=agreement.terms.version,
        signed=agreement.signed,
        signed_at=timezone.localtime(agreement.signed_at),
        guardian_signer=agreement.guardian_signer,
        photos=hand_out.photos.count() if hand_out else 0,
        drawn=drawn(standing_of(instrument, findings=facts, is_inspected=True)) if hand_out else None,
        student_signature=_content(agreement.student_signature),
        guardian_signature=_content(agreement.guardian_signature),
    )


def _content(field: Any) -> bytes:
    if not field:
        return b""
    with field.open("rb") as stored:
        content: bytes = stored.read()
    return content


def years_of_papers() -> int | None:
    """How many years the district keeps signed papers after the return; None where nobody has said."""
    return District.objects.values_list("keep_papers_years", flat=True).first()


def papers_past_their_time(*, today: date) -> Iterator[tuple[Agreement, date]]:
    """Papers whose files may go, with the day since when, the eldest first; none while no period is set."""
    years = years_of_papers()
    if years is not None:
        for agreement, until in _with_their_day(_papers_of_ended_loans(), years):
            if until <= today:
                yield agreement, until


def papers_within_their_time(student: Student, *, at: datetime) -> list[tuple[Agreement, date]]:
    """The student's papers that the district's period still holds, with the day until which."""
    years = years_of_papers()
    if years is None:
        return []
    mine = _with_their_day(_papers_of_ended_loans().filter(loan__student=student), years)
    return [(agreement, until) for agreement, until in mine if until > timezone.localdate(at)]


def _papers_of_ended_loans() -> QuerySet[Agreement]:
    kept = ~Q(pdf="") | ~Q(scan="") | ~Q(student_signature="") | ~Q(guardian_signature="")
    ended = Agreement.objects.filter(kept, loan__returned_at__isnull=False)
    return ended.select_related("loan__instrument").order_by("loan__returned_at", "pk")


def _with_their_day(agreements: Iterable[Agreement], years: int) -> Iterator[tuple[Agreement, date]]:
    for agreement in agreements:
        if agreement.loan.returned_at is not None:
            yield agreement, keep_until(returned_on=timezone.localdate(agreement.loan.returned_at), years=years)
