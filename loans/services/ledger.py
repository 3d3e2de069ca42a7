"""What a family is charged, pays, is waived or paid back. An entry is never edited: a mistake is reversed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid5

from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.day_bounds import RECORDED
from core.events import already, record_event
from core.models import User
from core.money import dollars
from core.traces import as_left
from inventory.models import School
from loans.exceptions import LedgerRefusedError
from loans.models import LedgerEntry, Loan, Posting, Student
from loans.rules.ledger import LEAST, MOST, Account, Sort, in_cents, most_of, opposite, postings
from loans.selectors.ledger import (
    CONFIRMED,
    WAIVED_THROUGH,
    YEARLY,
    approvers_of,
    asks_password,
    owed_by,
    password_above,
    posted_by,
    school_year_of,
    yet_to_charge,
)

LOGGED = ("student_id", "loan_id", "sort", "amount", "on", "reverses_id", "approved_by_id")


@service(once="nonce")
def enter_in_ledger(
    *,
    student: Student,
    sort: str,
    amount: Decimal,
    on: date,
    actor: User,
    at: datetime,
    nonce: UUID,
    loan: Loan | None = None,
    note: str = "",
    approved_by: User | None = None,
    is_confirmed: bool = False,
    reckoning: Mapping[str, Any] | None = None,
) -> LedgerEntry:
    """Enter a fee, a charge, a payment, a refund, a waiver, or what is taken off because something was found.

    ``amount`` is in dollars and cents. A waiver needs who approved it, somebody who may at that school, and takes no note: why a
    family does not pay is nobody's business; above the district's figure it needs that they typed their own password
    (``is_confirmed``), which the entry keeps. With ``WAIVED_THROUGH`` in its reckoning it stands: through that school year the
    family is left out of the yearly fee, and may then be of nothing. Raises LedgerRefusedError and writes nothing.
    """
    which = Sort(sort)
    if which is Sort.REVERSAL:
        raise ValueError("a reversal is entered by reverse_entry")
    borrower = lock_row(student)  # two entries at once would both see what the family owed before
    if borrower.erased_at is not None:
        raise LedgerRefusedError(_("This student was erased; nothing can be entered for them."))
    if loan is not None and loan.student_id != borrower.pk:
        raise LedgerRefusedError(_("That loan is another student's."))
    RECORDED.check(on, today=timezone.localdate(at), refusal=LedgerRefusedError)
    school_id = loan.school_id if loan else borrower.school_id
    if which is Sort.WAIVER and (approved_by is None or approved_by not in approvers_of(school_id, but_for=actor)):
        raise LedgerRefusedError(_("Say who approved the waiver: somebody else who may approve it at this school."))
    if amount or which is not Sort.WAIVER or WAIVED_THROUGH not in (reckoning or {}):
        _check_amount(which, amount, owed=owed_by(borrower))
    if approved_by and which is Sort.WAIVER and asks_password(amount, approver=approved_by, asker=actor):
        if not is_confirmed:
            words = _("A waiver above %(limit)s needs the approver's password.")
            raise LedgerRefusedError(words % {"limit": dollars(password_above())})
        reckoning = {**(reckoning or {}), CONFIRMED: "password"}
    return _enter(
        posted=postings(which, amount),
        school_id=school_id,
        student=borrower,
        loan=loan,
        sort=which.value,
        amount=amount,
        on=on,
        note="" if which is Sort.WAIVER else " ".join(note.split())[:200],
        approved_by=approved_by if which is Sort.WAIVER else None,
        reckoning=dict(reckoning or {}),
        actor=actor,
        at=at,
        nonce=nonce,
    )


def _check_amount(sort: Sort, amount: Decimal, *, owed: Decimal) -> None:
    if not LEAST <= amount <= MOST or amount != amount.quantize(LEAST):
        words = _("Enter dollars and cents, from %(least)s to %(most)s.")
        raise LedgerRefusedError(words % {"least": dollars(LEAST), "most": dollars(MOST)})
    most = most_of(sort, owed=owed)
    if amount <= most:
        return
    if sort is Sort.REFUND:
        words = _("At most %(most)s can be paid back: that is what the school owes this family.")
    else:
        words = _("At most %(most)s can be waived: that is what this family owes.")
    raise LedgerRefusedError(words % {"most": dollars(most)})


def _charged_before(_row: None, **_posted: Any) -> int:
    return 0


@service(once="nonce", again=_charged_before)
def charge_yearly_fee(
    *, school: School, amount: Decimal, on: date, note: str, actor: User, at: datetime, nonce: UUID
) -> int:
    """Charge the fee of that school year to each student of the school who has an instrument, and return to how many.

    Whom a waiver leaves out is not charged. Nobody is charged twice for a year, unless the first charge was taken back.
    Raises LedgerRefusedError and writes nothing.
    """
    RECORDED.check(on, today=timezone.localdate(at), refusal=LedgerRefusedError)
    _check_amount(Sort.FEE, amount, owed=Decimal(0))
    year = school_year_of(on)
    borrowers = Student.objects.filter(pk__in=yet_to_charge(school, year=year).values("pk")).order_by("pk")
    locked = [student.pk for student in borrowers.select_for_update(no_key=True)]
    # Asked again with all of them locked: another desk may have charged some of them meanwhile.
    students = list(yet_to_charge(school, year=year).filter(pk__in=locked).order_by("pk"))
    for student in students:
        _enter(
            posted=postings(Sort.FEE, amount),
            school_id=school.pk,
            student=student,
            sort=Sort.FEE.value,
            amount=amount,
            on=on,
            note=" ".join(note.split())[:200],
            reckoning={YEARLY: year},
            actor=actor,
            at=at,
            nonce=uuid5(nonce, f"student:{student.pk}"),
        )
    return len(students)


@service(once="nonce")
def reverse_entry(*, entry: LedgerEntry, because: str, actor: User, at: datetime, nonce: UUID) -> LedgerEntry:
    """Take an entry back by its opposite; both stay. Refused for a reversal, and for what is reversed already."""
    borrower = lock_row(entry.student)
    fresh = LedgerEntry.objects.select_related("reversed_by").get(pk=entry.pk)
    if fresh.sort == Sort.REVERSAL:
        raise LedgerRefusedError(_("This is a reversal. Enter again what it reversed."))
    if fresh.reversal is not None:
        words = _("This was reversed already. Nothing was changed.")
        raise LedgerRefusedError(already(words, subject=fresh.reversal, acts=["ledger_entered"]))
    if not because.strip():
        raise LedgerRefusedError(_("Say why it is reversed."))
    return _enter(
        posted=opposite(posted_by(fresh)),
        school_id=fresh.school_id,
        student=borrower,
        loan=fresh.loan,
        sort=Sort.REVERSAL.value,
        amount=fresh.amount,
        on=timezone.localdate(at),
        note=" ".join(because.split())[:200],
        reverses=fresh,
        actor=actor,
        at=at,
        nonce=nonce,
    )


def _enter(*, posted: Mapping[Account, Decimal], **columns: Any) -> LedgerEntry:
    entry = LedgerEntry.objects.create(**columns)
    Posting.objects.bulk_create(
        Posting(entry=entry, account=account.value, cents=in_cents(amount))
        for account, amount in sorted(posted.items())
    )
    waiver = {name: value for name, value in entry.reckoning.items() if name in {WAIVED_THROUGH, CONFIRMED}}
    record_event(act="ledger_entered", subject=entry, tenant=entry.school_id, after=as_left(entry, *LOGGED) | waiver)
    return entry
