"""Reads of loans: who has what."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet

from inventory.models import (
    Instrument,
    schools_of,
)
from loans.models import Loan, LoanQuerySet, Student


def schools_with_names(user: Any) -> frozenset[int]:
    """Return the schools whose students' names the user may see; elsewhere a loan is shown without the name."""
    return frozenset(schools_of(user, "loans.view_student_name").values_list("pk", flat=True))


def open_loan_of(instrument: Instrument) -> Loan | None:
    """Return the open loan of an instrument, or None."""
    return open_loans().filter(instrument=instrument).first()


def open_loans() -> LoanQuerySet:
    """Return what is out, with what taking it back needs."""
    return Loan.objects.open().for_table().select_related("instrument__school", "hand_out")


def term_before(loan: Loan) -> Loan | None:
    """Return the loan that this one renewed, or None: it ended the moment this one began."""
    rows = Loan.objects.not_undone().filter(instrument=loan.instrument_id, student=loan.student_id)
    return rows.filter(returned_at=loan.lent_at, taken_back=None, pk__lt=loan.pk).order_by("-pk").first()


def went_on_as(loan: Loan) -> Loan | None:
    """Return the loan that went on once ``loan``, which renewed it, was undone, or None: it began before and was open after."""
    if loan.undone_at is None:
        return None
    rows = Loan.objects.filter(instrument=loan.instrument_id, student=loan.student_id, pk__lt=loan.pk)
    was_open = Q(returned_at=None, undone_at=None) | Q(returned_at__gt=loan.undone_at) | Q(undone_at__gt=loan.undone_at)
    return rows.filter(was_open).order_by("-pk").first()


def first_term(loan: Loan) -> Loan:
    """Return the loan that this one goes on from, renewal by renewal; itself if it renews none. One query for each term."""
    while before := term_before(loan):
        loan = before
    return loan


def loans_of(student: Student) -> QuerySet[Loan]:
    """Return every loan of the student, newest first, without those that were a mistake; merged records' too."""
    mine = Loan.objects.filter(Q(student=student) | Q(student__merged_into=student))
    return mine.not_undone().for_table().order_by("-lent_at", "-pk")
