"""The PDF of a loan agreement, made after the signatures are saved."""

from __future__ import annotations

import logging
from datetime import datetime

from core.models import User
from core.pdf import PdfError
from loans.models import Agreement, Student
from loans.pdf import agreement_pdf
from loans.selectors import hand_out_facts, papers_to_keep
from loans.services import file_agreement_pdf

logger = logging.getLogger(__name__)


def print_agreement(*, agreement: Agreement, actor: User | None, at: datetime) -> Agreement:
    """Render the paper and store it with its hash. On PdfError nothing was stored, and it can be tried again."""
    if agreement.pdf_sha256:
        return agreement
    data = agreement_pdf(agreement, hand_out_facts(agreement))
    return file_agreement_pdf(agreement=agreement, data=data, actor=actor, at=at)


def print_before_erasing(*, student: Student, actor: User | None, at: datetime) -> int:
    """Render the student's papers that must be kept, while the names are still there; return how many were made.

    On PdfError, those made before stay.
    """
    waiting = [paper for paper, _ in papers_to_keep(student, at=at) if not paper.pdf_sha256]
    for agreement in waiting:
        print_agreement(agreement=agreement, actor=actor, at=at)
    return len(waiting)


def print_when_signed(*, agreement_id: int, actor: User | None, at: datetime) -> None:
    """For ``on_commit``: a paper that fails to render does not undo the loan; the loan's page can make it later."""
    agreement = Agreement.objects.select_related(
        "terms", "loan__instrument__school", "loan__student", "loan__hand_out", "loan__actor"
    ).get(pk=agreement_id)
    try:
        print_agreement(agreement=agreement, actor=actor, at=at)
    except PdfError:
        logger.exception("agreement %s could not be rendered", agreement_id)
