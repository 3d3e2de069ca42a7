"""Papers printed to be signed: whom for, what they say, and which one came back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db.models import Q

from core.models import User
from inventory.models import Instrument
from inventory.selectors.prices import replacement_amount
from inventory.selectors.setup import district_name
from loans.models import Loan, PaperToSign, Student
from loans.rules.terms import ENGLISH
from loans.selectors.agreements import agreed_names, facts_to_sign, read_facts


def language_of(student: Student) -> str:
    """Return the language of whoever signs."""
    guardian = student.guardian
    return guardian.language if guardian else ENGLISH


def facts_to_print(
    student: Student, *, instrument: Instrument | None, loan: Loan | None, actor: User, at: datetime
) -> dict[str, Any]:
    """Return what a paper to sign says of instrument and loan; of one left open, only the school."""
    if loan is not None:
        return facts_to_sign(loan)
    if instrument is None:
        return {"district": district_name(), "school": student.school.name, "phone": student.school.phone}
    accessories = [{"name": row.name, "count": row.expected} for row in instrument.accessories.all() if row.expected]
    last = instrument.inspections.finished().order_by("-finished_at", "-pk").first()
    planned = Loan(
        instrument=instrument,
        school=student.school,
        student=student,
        actor=actor,
        lent_at=at,
        accessories=accessories,
        replacement_amount=replacement_amount(instrument),
        hand_out=last,
    )
    return facts_to_sign(planned)


def paper_to_sign_facts(paper: PaperToSign) -> dict[str, Any]:
    """Return the facts as the page of an agreement takes them, with the names as they are now."""
    return read_facts(paper.facts, names=agreed_names(Loan(student=paper.student, actor=paper.actor)))


def loans_to_sign(students: Sequence[Student]) -> dict[int, Loan]:
    """Return the loan to be signed for by each student who has exactly one. One query."""
    rows = Loan.objects.open().filter(student__in=students, agreement=None, is_signed_elsewhere=False)
    found: dict[int, list[Loan]] = {}
    for loan in rows.select_related("instrument", "school", "student", "hand_out", "actor"):
        found.setdefault(loan.student_id, []).append(loan)
    return {student: loans[0] for student, loans in found.items() if len(loans) == 1}


def loan_of_paper(paper: PaperToSign) -> Loan | None:
    """Return the loan that a signed paper is for: its own, or the one its student has to sign for."""
    rows = Loan.objects.open().filter(student=paper.student_id, agreement=None, is_signed_elsewhere=False)
    if paper.loan_id:
        return rows.filter(pk=paper.loan_id).first()
    if paper.instrument_id:
        rows = rows.filter(instrument=paper.instrument_id)
    found = list(rows[:2])
    return found[0] if len(found) == 1 else None


def signed_paper_for(loan: Loan) -> PaperToSign | None:
    """Return the paper that came back signed before this loan was made, or None."""
    same = Q(loan=loan) | Q(loan=None, instrument=loan.instrument_id) | Q(loan=None, instrument=None)
    waiting = PaperToSign.objects.waiting().filter(same, student=loan.student_id).select_related("terms")
    return waiting.order_by("-printed_at", "-pk").first()
