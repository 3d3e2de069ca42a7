"""Papers to sign: printed, taken in again, used for a loan."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Sequence
from datetime import datetime
from functools import partial

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction
from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.events import already, record_event
from core.models import User
from core.photos import CleanScan
from core.traces import NOW, as_left
from inventory.models import Instrument
from loans.exceptions import AgreementRefusedError
from loans.models import Agreement, Loan, PaperToSign, Student
from loans.rules.codes import new_code
from loans.selectors.to_sign import facts_to_print, language_of, loans_to_sign
from loans.services.agreements import terms_in_force


@service
def print_papers(
    *, students: Sequence[Student], actor: User, at: datetime, instrument: Instrument | None = None
) -> list[PaperToSign]:
    """Return a paper to sign for each student, with the instrument named, the one that is out, or left open.

    One that is the same and has not come back is printed again, under the code it has.
    """
    if instrument is not None and len(students) != 1:
        raise AgreementRefusedError(_("Name an instrument for one student at a time."))
    loans = loans_to_sign(students) if instrument is None else {}
    papers = []
    for student in students:
        if student.erased_at is not None:
            raise AgreementRefusedError(_("This student was erased."))
        if instrument is not None and instrument.school_id != student.school_id:
            raise AgreementRefusedError(_("This student is at another school than the instrument."))
        papers.append(_paper(student, instrument=instrument, loan=loans.get(student.pk), actor=actor, at=at))
    return papers


@service
def print_papers_of_loans(*, loans: Sequence[Loan], actor: User, at: datetime) -> list[PaperToSign]:
    """Return a paper to sign for each of these loans; one that is the same and has not come back keeps its code."""
    return [_paper(loan.student, instrument=None, loan=loan, actor=actor, at=at) for loan in loans]


def _paper(
    student: Student, *, instrument: Instrument | None, loan: Loan | None, actor: User, at: datetime
) -> PaperToSign:
    terms = terms_in_force(at=at, language=language_of(student))
    facts = facts_to_print(student, instrument=instrument, loan=loan, actor=actor, at=at)
    named = loan.instrument if loan else instrument
    same = PaperToSign.objects.open().filter(student=student, instrument=named, loan=loan, terms=terms, scan="")
    for paper in same.order_by("-pk").select_related("actor"):
        if paper.facts == facts:
            paper.student, paper.terms, paper.loan = student, terms, loan
            return paper
    paper = PaperToSign.objects.create(
        code=new_code(secrets.choice), student=student, instrument=named, loan=loan, terms=terms, facts=facts,
        printed_at=at, actor=actor,
    )  # fmt: skip
    about = as_left(paper, "student_id", "instrument_id", "loan_id", "terms_id")
    record_event(act="paper_printed", subject=paper, tenant=student.school_id, after=about)
    return paper


@service
def keep_signed_paper(*, paper: PaperToSign, scan: CleanScan, actor: User, at: datetime) -> PaperToSign:
    """Keep the scan of a paper that came back before its loan."""
    fresh = lock_row(paper, "student")
    _check_open(fresh)
    if fresh.scan_sha256 == hashlib.sha256(scan.content).hexdigest():
        return fresh
    before = fresh.scan.name
    fresh.scan_sha256 = hashlib.sha256(scan.content).hexdigest()
    fresh.scan.save(f"paper-{fresh.pk}{scan.extension}", ContentFile(scan.content), save=False)
    fresh.save(update_fields=["scan", "scan_sha256"])
    after = {NOW: {"scan_sha256": fresh.scan_sha256}}
    record_event(act="paper_came_back", subject=fresh, tenant=fresh.student.school_id, after=after)
    if before:
        transaction.on_commit(partial(default_storage.delete, before))
    return fresh


@service
def use_paper(*, paper: PaperToSign, agreement: Agreement, actor: User, at: datetime) -> PaperToSign:
    """Say that the agreement has what this paper brought; the scan it kept itself goes, as the agreement has its own."""
    fresh = lock_row(paper, "student")
    _check_open(fresh)
    _end(fresh, loan=agreement.loan, at=at)
    after = {NOW: {"scan_sha256": "", "loan_id": fresh.loan_id}}
    record_event(act="paper_used", subject=fresh, tenant=fresh.student.school_id, after=after)
    return fresh


def void_papers(*, student: Student, at: datetime) -> int:
    """Void the open papers of a student who is erased, with their scans. Called within the erasing."""
    papers = list(PaperToSign.objects.filter(student=student, done_at=None))
    for paper in papers:
        _end(paper, loan=paper.loan, at=at)
        after = {NOW: {"scan_sha256": ""}}
        record_event(act="paper_voided", subject=paper, tenant=student.school_id, after=after)
    return len(papers)


def _end(paper: PaperToSign, *, loan: Loan | None, at: datetime) -> None:
    name = paper.scan.name
    paper.loan, paper.done_at, paper.scan, paper.scan_sha256 = loan, at, "", ""
    paper.save(update_fields=["loan", "done_at", "scan", "scan_sha256"])
    if name:
        transaction.on_commit(partial(default_storage.delete, name))


def _check_open(paper: PaperToSign) -> None:
    if paper.done_at is not None:
        words = _("The paper %(code)s was already used. Nothing was changed.") % {"code": paper.shown_code}
        raise AgreementRefusedError(already(words, subject=paper, acts=["paper_used", "paper_voided"]))
