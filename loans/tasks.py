"""The PDF of a loan agreement: a task saved with the signatures, so that no signed loan stays without its paper."""

from __future__ import annotations

import logging
from datetime import datetime

from django.db import Error
from django.utils import timezone
from django_tasks import TaskContext, task

from core.models import User
from core.queue import LAST, wait_after
from loans.models import Agreement, Student
from loans.pdf import agreement_pdf
from loans.selectors.agreements import has_all_facts, paper_facts
from loans.selectors.papers import due_papers, papers_to_keep, waiting_papers
from loans.services import file_agreement_pdf

logger = logging.getLogger(__name__)


def print_agreement(*, agreement: Agreement, actor: User | None, at: datetime) -> Agreement:
    """Render the paper and store it with its hash. On PdfError nothing was stored, and it can be tried again."""
    if agreement.pdf_sha256:
        return agreement
    known_on = None if has_all_facts(agreement) else timezone.localdate(at)
    data = agreement_pdf(agreement, paper_facts(agreement) | {"known_on": known_on})
    return file_agreement_pdf(agreement=agreement, data=data, known_on=known_on, actor=actor, at=at)


def print_before_erasing(*, student: Student, actor: User | None, at: datetime) -> int:
    """Render the student's papers that must be kept, while the names are still there; return how many were made.

    On PdfError, those made before stay.
    """
    waiting = [paper for paper, _ in papers_to_keep(student, at=at) if not paper.pdf_sha256]
    for agreement in waiting:
        print_agreement(agreement=agreement, actor=actor, at=at)
    return len(waiting)


@task(takes_context=True)
def make_paper(context: TaskContext, *, agreement: int, failures: int = 0) -> None:
    """Make the paper of a signed agreement, or try again later. It does nothing where there is nothing to make."""
    paper = due_papers().filter(pk=agreement).first()
    now = context.task_result.started_at
    if paper is None or now is None:
        return
    try:
        print_agreement(agreement=paper, actor=paper.loan.actor, at=now)
    except Error:
        raise  # without a database, nothing can be queued; the worker's next sweep finds that this is due
    except Exception as error:  # noqa: BLE001  # whatever it was, the family's paper stays due
        failures += 1
        # The kind of error only: its words may repeat what the paper says.
        logger.warning(
            "the paper of loan %s was not made, %d times now: %s", paper.loan_id, failures, type(error).__name__
        )
        make_paper.using(run_after=now + wait_after(failures)).enqueue(agreement=agreement, failures=failures)


def queue_due_papers() -> int:
    """Queue every paper that is due and waits in no task, as after an upgrade or a restored backup; return how many."""
    known = waiting_papers()
    missing = [pk for pk in due_papers().values_list("pk", flat=True) if pk not in known]
    for pk in missing:
        make_paper.using(priority=LAST).enqueue(agreement=pk)
    return len(missing)
