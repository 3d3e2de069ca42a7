"""Reads of the ledger: what a family owes, and whether everything balances."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import F, Max, Q, QuerySet, Sum
from django.db.models.functions import Coalesce

from core.models import User
from inventory.access import is_barred, people_who_may
from inventory.catalog.load import catalog
from inventory.models import School
from loans.guard import LEDGER_GUARD
from loans.models import LedgerEntry, Loan, Posting, Student, StudentQuerySet
from loans.rules import grades
from loans.rules.due import school_year_ends
from loans.rules.ledger import Account, Sort, in_dollars, opposite, postings

AT_ONCE = 2000
# In the reckoning, by the year in which a school year ends: whose fee it is; through which a waiver holds for the yearly fee.
YEARLY, WAIVED_THROUGH = "yearly", "waived_through"
CONFIRMED = "confirmed"  # in the reckoning of a waiver whose approver typed the own password


def owed_by(student: Student) -> Decimal:
    """Return what the family owes, below nothing what the school owes it."""
    return Posting.objects.of_families().filter(entry__student=student).sum()


def owed_after(entry: LedgerEntry) -> Decimal:
    """Return what the family owed once this had been entered."""
    return Posting.objects.of_families().filter(entry__student=entry.student_id, entry__pk__lte=entry.pk).sum()


def owed_by_each(students: Collection[int]) -> dict[int, Decimal]:
    """Return what each of these students' families owes, by the student's key; those without entries are left out."""
    rows = Posting.objects.of_families().filter(entry__student__in=students)
    sums = rows.order_by().values_list("entry__student").annotate(owed=Sum("cents"))
    return {student: in_dollars(owed) for student, owed in sums}


def entries_of(student: Student) -> QuerySet[LedgerEntry]:
    """Return the family's entries, oldest first, each with the cents it moved on the family's account as ``moved``."""
    return (
        LedgerEntry.objects.filter(student=student)
        .annotate(moved=Sum("postings__cents", filter=Q(postings__account=Account.FAMILY)))
        .select_related("loan__instrument", "actor", "approved_by", "reversed_by", "reverses")
        .order_by("at", "pk")
    )


def approvers_of(school_id: int, *, but_for: User) -> QuerySet[User]:
    """Return who may have approved a waiver that this person enters."""
    people = people_who_may("loans.approve_waiver", school_id=school_id)
    return people.exclude(pk=but_for.pk) if is_barred(but_for, asker_id=but_for.pk) else people


def asks_password(amount: Decimal, *, approver: User, asker: User) -> bool:
    """Whether a waiver of this amount is approved by the approver's own password; nobody types it for their own."""
    return amount > password_above() and approver.pk != asker.pk


def password_above() -> Decimal:
    return catalog().settings["waiver_password_amount"]


def school_year_of(day: date) -> int:
    """Return the year in which the school year of that day ends."""
    return grades.school_year_of(day, ends=school_year_ends(catalog().settings))


def yet_to_charge(school: School, *, year: int) -> StudentQuerySet:
    """Return the students who have an instrument of the school, were not charged its fee for that year, and are to pay it."""
    return _uncharged(school, year=year).exclude(pk__in=_waived(year))


def waived_for(school: School, *, year: int) -> StudentQuerySet:
    """Return those whom a waiver that stands leaves out of the fee of that school year."""
    return _uncharged(school, year=year).filter(pk__in=_waived(year))


def _uncharged(school: School, *, year: int) -> StudentQuerySet:
    charged = LedgerEntry.objects.standing().filter(sort=Sort.FEE, **{f"reckoning__{YEARLY}": year})
    borrowing = Loan.objects.open().filter(school=school).values("student")
    students = Student.objects.filter(pk__in=borrowing, who=Student.Who.STUDENT, erased_at=None)
    return students.exclude(pk__in=charged.order_by().values("student"))


def _waived(year: int) -> QuerySet[Any, Any]:
    waivers = LedgerEntry.objects.standing().filter(sort=Sort.WAIVER, **{f"reckoning__{WAIVED_THROUGH}__gte": year})
    return waivers.order_by().values("student")


def with_balances(students: StudentQuerySet) -> StudentQuerySet:
    """Return those who have an account, each with what is owed in cents (``owed``) and the day of the last entry."""
    moved = Sum("ledger_entries__postings__cents", filter=Q(ledger_entries__postings__account=Account.FAMILY))
    return students.filter(ledger_entries__isnull=False).annotate(
        owed=Coalesce(moved, 0), last_on=Max("ledger_entries__on")
    )


def owed_in_all(user: Any) -> dict[str, Any]:
    """Return how many families of the user's schools owe something (``count``), and how much in all (``amount``). One query."""
    rows = Posting.objects.of_families().filter(entry__in=LedgerEntry.objects.visible_to(user).order_by())
    owed = rows.order_by().values_list("entry__student").annotate(owed=Sum("cents")).filter(owed__gt=0)
    each = [cents for _, cents in owed]
    return {"count": len(each), "amount": in_dollars(sum(each))}


def posted_by(entry: LedgerEntry) -> dict[Account, Decimal]:
    """Return what an entry moved in each account."""
    return {Account(one.account): one.amount for one in entry.postings.all()}


def ledger_differences() -> Iterator[str]:
    """Yield a sentence for each entry that does not balance or does not move what its sort says, and for what is unguarded."""
    yield from LEDGER_GUARD.missing()
    lost = LedgerEntry.objects.filter(loan__isnull=False).exclude(loan__student=F("student"))
    for pk in lost.order_by("pk").values_list("pk", flat=True):
        yield f"entry {pk} of the ledger is about another student's loan"
    entries = (
        LedgerEntry.objects.order_by("pk")
        .select_related("reverses")
        .prefetch_related("postings", "reverses__postings")
        .iterator(AT_ONCE)
    )
    for entry in entries:
        yield from _differences(entry)


def _differences(entry: LedgerEntry) -> Iterator[str]:
    posted = posted_by(entry)
    if sum(posted.values()) != 0:
        yield f"entry {entry.pk} of the ledger does not balance: {sum(posted.values()):+} is left"
    if entry.sort != Sort.REVERSAL:
        wanted = postings(Sort(entry.sort), entry.amount)
    elif entry.reverses is not None:
        wanted = opposite(posted_by(entry.reverses))
        if entry.reverses.student_id != entry.student_id:
            yield f"entry {entry.pk} of the ledger reverses another student's"
    else:
        yield f"entry {entry.pk} of the ledger reverses nothing"
        return
    if posted != wanted:
        yield f"entry {entry.pk} of the ledger does not move what a {entry.sort} of {entry.amount} moves"
