"""The loan agreement as the paper states it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone

from inventory.models import VERDICT_LABELS, Verdict
from inventory.selectors.drawing import Drawn
from loans.models import Agreement
from loans.pages.comparing import findings_in_words
from loans.selectors import HandOutFacts


@dataclass(frozen=True, slots=True)
class AgreementPaper:
    """Everything on the signed paper. Signatures are PNG bytes, empty if it was signed on paper."""

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
    drawn: Drawn | None = None  # as at hand-out; None if there was no inspection
    student_signature: bytes = b""
    guardian_signature: bytes = b""


def agreement_paper(agreement: Agreement, facts: HandOutFacts) -> AgreementPaper:
    """Return what the paper says, as things stood at hand-out; reads the two signature files."""
    loan = agreement.loan
    instrument, student, hand_out = loan.instrument, loan.student, loan.hand_out
    verdict = hand_out.verdict if hand_out and hand_out.verdict else Verdict.NOT_INSPECTED
    return AgreementPaper(
        district=facts.district,
        school=instrument.school.name,
        student=student.name,
        grade=student.grade,
        guardian=student.guardian_name,
        asset_number=instrument.asset_number,
        kind=instrument.kind.name,
        maker=instrument.maker,
        model=instrument.model,
        serial=instrument.serial,
        verdict=str(VERDICT_LABELS[Verdict(verdict)]),
        findings=findings_in_words(instrument.kind, facts.findings),
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
        photos=facts.photos,
        drawn=facts.drawn,
        student_signature=_content(agreement.student_signature),
        guardian_signature=_content(agreement.guardian_signature),
    )


def _content(field: Any) -> bytes:
    if not field:
        return b""
    with field.open("rb") as stored:
        content: bytes = stored.read()
    return content
