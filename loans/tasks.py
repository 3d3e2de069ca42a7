"""What is done for loans after the response: the PDF of an agreement, and mail to families.

The paper is a task saved with the signatures, so that no signed loan stays without it.
"""

from __future__ import annotations

import logging
from collections.abc import Collection
from datetime import date, datetime

from django.conf import settings
from django.db import Error
from django.utils import timezone
from django_tasks import TaskContext, task

from core.mail import AGAIN, GIVEN_UP, NOTHING, SENT, is_address_refused, send_letter, why_not_sent
from core.models import User
from core.queue import LAST, wait_after
from loans.models import Addendum, Agreement, Loan, Notice, SigningLink, Student
from loans.pages.letters import letter_of
from loans.pages.signing_links import link_letter
from loans.pdf import addendum_pdf, agreement_pdf
from loans.selectors.agreements import has_all_facts, paper_facts
from loans.selectors.notices import is_still_true, mailed_from, queued_notices
from loans.selectors.papers import due_papers, papers_to_keep, waiting_papers
from loans.selectors.signing_links import READ_WITH, Standing, standing_of
from loans.services import file_addendum_pdf, file_agreement_pdf
from loans.services.notices import drop_notice, note_came_back, note_mailed
from loans.services.signing_links import give_up_mailing, keep_mailed_link, new_token

logger = logging.getLogger(__name__)
LINK_TRIES = 6  # within some six hours: a day later the staff would have asked on paper


def print_agreement(*, agreement: Agreement, actor: User | None, at: datetime) -> Agreement:
    """Render the paper and its addenda and store each with its hash. On PdfError it can be tried again."""
    if not agreement.pdf_sha256:
        known_on = None if has_all_facts(agreement) else timezone.localdate(at)
        data = agreement_pdf(agreement, paper_facts(agreement) | {"known_on": known_on})
        file_agreement_pdf(agreement=agreement, data=data, known_on=known_on, actor=actor, at=at)
        agreement.refresh_from_db(fields=["pdf", "pdf_sha256", "facts"])
    for addendum in agreement.addenda.filter(pdf_sha256="").select_related("actor"):
        addendum.agreement = agreement
        data = addendum_pdf(addendum, paper_facts(agreement))
        file_addendum_pdf(addendum=addendum, data=data, actor=actor, at=at)
    return agreement


def print_before_erasing(*, student: Student, actor: User | None, at: datetime) -> int:
    """Render the student's papers that must be kept, while the names are still there; return how many were made.

    On PdfError, those made before stay.
    """
    unmade = set(
        Addendum.objects.filter(pdf_sha256="", agreement__loan__student=student).values_list("agreement", flat=True)
    )
    waiting = [paper for paper, _ in papers_to_keep(student, at=at) if not paper.pdf_sha256 or paper.pk in unmade]
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


def queue_papers_of(loans: Collection[Loan]) -> None:
    """Queue the papers that a change to these loans made due, such as addenda; what is missed here, the next sweep finds."""
    for pk in due_papers().filter(loan__in=loans).values_list("pk", flat=True):
        make_paper.enqueue(agreement=pk)


def queue_due_papers() -> int:
    """Queue every paper that is due and waits in no task, as after an upgrade or a restored backup; return how many."""
    known = waiting_papers()
    missing = [pk for pk in due_papers().values_list("pk", flat=True) if pk not in known]
    for pk in missing:
        make_paper.using(priority=LAST).enqueue(agreement=pk)
    return len(missing)


@task(takes_context=True)
def mail_notice(context: TaskContext, *, notice: int, failures: int = 0) -> dict[str, str]:
    """Hand a notice to the mail server, after the quiet hours; return what came of it.

    What is no longer true is dropped. Killed between the server's answer and our note of it, the same message goes
    out again under the same Message-ID, by which a reader's mail program knows it.
    """
    now = context.task_result.started_at
    row = Notice.objects.to_mail().for_saying().filter(pk=notice).first()
    if row is None or now is None:
        return {"outcome": NOTHING}
    if not is_still_true(row, today=timezone.localdate(now)):
        drop_notice(notice=row, actor=None, at=now)
        return {"outcome": NOTHING}
    from_then = mailed_from(now)
    if from_then > now:
        mail_notice.using(run_after=from_then).enqueue(notice=notice, failures=failures)
        return {"outcome": NOTHING}
    if row.guardian is None or not row.guardian.email or not settings.MAIL_IS_SET:
        note_came_back(notice=row, actor=None, at=now)  # there is no address now: it becomes a letter
        return {"outcome": NOTHING}
    error = send_notice(row, today=timezone.localdate(now))
    if error is None:
        note_mailed(notice=row, actor=None, at=now)
        return {"outcome": SENT}
    # The kind of error only: its words may repeat the address.
    logger.warning("notice %s was not mailed, %d times now: %s", notice, failures + 1, type(error).__name__)
    if is_address_refused(error):
        note_came_back(notice=row, actor=None, at=now)
        return {"outcome": NOTHING}
    failures += 1
    mail_notice.using(run_after=now + wait_after(failures)).enqueue(notice=notice, failures=failures)
    return {"outcome": AGAIN, "why": why_not_sent(error)}


def send_notice(notice: Notice, *, today: date) -> Exception | None:
    """Hand the mail in; return what kept it from being taken. No name stands in the subject; answers go to the school."""
    letter, home = letter_of(notice, today=today), settings.DEFAULT_FROM_EMAIL.rpartition("@")[2].rstrip("> ")
    return send_letter(
        subject=letter.subject,
        words=letter.text,
        to=notice.guardian.email if notice.guardian else "",
        reply_to=notice.loan.school.email,
        headers={
            "Message-ID": f"<notice-{notice.pk}@{home}>",
            "Auto-Submitted": "auto-generated",  # RFC 3834: no automatic answers, please
            "Content-Language": letter.language,
        },
    )


def queue_notices() -> int:
    """Queue what waits to be mailed and is in no task; return how many."""
    known = queued_notices()
    missing = [pk for pk in Notice.objects.to_mail().values_list("pk", flat=True) if pk not in known]
    for pk in missing:
        mail_notice.using(priority=LAST).enqueue(notice=pk)
    return len(missing)


@task(takes_context=True)
def mail_signing_link(context: TaskContext, *, link: int, home: str, failures: int = 0) -> dict[str, str]:
    """Mail a guardian a link to sign, or try again later, a few times; return what came of it.

    The token is kept once the letter is sent, and stands in no queue: killed between the two, the letter goes out again
    with a link that works.
    """
    now = context.task_result.started_at
    row = SigningLink.objects.select_related(*READ_WITH).filter(pk=link).first()
    if now is None or row is None or standing_of(row, at=now) is not Standing.WAITS:
        return {"outcome": NOTHING}
    from_then = mailed_from(now)
    if from_then > now:
        mail_signing_link.using(run_after=from_then).enqueue(link=link, home=home, failures=failures)
        return {"outcome": NOTHING}
    token = new_token()
    letter = link_letter(row, token=token, home=home)
    error = send_letter(subject=letter["subject"], words=letter["words"], to=letter["to"])
    if error is None:
        keep_mailed_link(link=row, token=token, actor=None, at=now)
        return {"outcome": SENT}
    failures += 1
    logger.error("signing link %s was not mailed, %d times now: %s", link, failures, type(error).__name__)
    if failures >= LINK_TRIES or is_address_refused(error):
        give_up_mailing(link=row, actor=None, at=now)
        return {"outcome": GIVEN_UP, "why": why_not_sent(error)}
    mail_signing_link.using(run_after=now + wait_after(failures)).enqueue(link=link, home=home, failures=failures)
    return {"outcome": AGAIN, "why": why_not_sent(error)}
