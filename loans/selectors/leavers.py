"""Students who left long ago: whom to forget, and what keeps one from being forgotten."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from datetime import date

from inventory.catalog.load import catalog
from inventory.models import Figure
from loans.models import LegalHold, Loan, Student
from loans.rules.due import keep_until
from loans.selectors.erasing import named_in, redaction_of
from loans.selectors.ledger import owed_by_each

YEARS = "leavers_kept_years"
AT_ONCE = 200

# Of some students, by key, why each is not yet to be forgotten; those that nothing keeps are left out.
Keeps = Callable[[Collection[int], date], dict[int, str]]


def _loans(students: Collection[int], _today: date) -> dict[int, str]:
    rows = Loan.objects.open().filter(student__in=students).order_by()
    return dict.fromkeys(rows.values_list("student", flat=True), "an instrument is out")


def _balances(students: Collection[int], _today: date) -> dict[int, str]:
    return {pk: "the account is not settled" for pk, owed in owed_by_each(students).items() if owed}


def _holds(students: Collection[int], today: date) -> dict[int, str]:
    rows = LegalHold.objects.in_force(today=today).filter(student__in=students).order_by("ends_on")
    return {pk: f"a legal hold, until {ends_on}" for pk, ends_on in rows.values_list("student", "ends_on")}


_keeps: list[Keeps] = [_loans, _balances, _holds]


def register_keeps(keeps: Keeps) -> None:
    """Add what else keeps a student's name, an open claim for instance."""
    if keeps not in _keeps:
        _keeps.append(keeps)


@dataclass(frozen=True, slots=True)
class Leaver:
    """``kept_by`` are the reasons to keep the name; ``unsure`` how many texts have a word that may be it."""

    student: Student
    kept_by: tuple[str, ...]
    unsure: int


def years_leavers_are_kept() -> int:
    return int(catalog().settings[YEARS])


def is_period_set() -> bool:
    """Whether the district chose the period itself: what cannot be undone is not done by a default, unasked."""
    latest = Figure.objects.filter(key=YEARS).order_by("effective_on", "pk").last()
    return latest is not None and latest.value != ""


def leavers(*, today: date) -> Iterator[Leaver]:
    """Yield who left longer ago than the district keeps names, some at a time, the longest gone first."""
    years = years_leavers_are_kept()
    gone = Student.objects.filter(erased_at=None, left_on__year__lte=today.year - years).select_related("school")
    due = [one for one in gone.order_by("left_on", "pk") if one.left_on and _is_over(one.left_on, years, today)]
    for start in range(0, len(due), AT_ONCE):
        some = due[start : start + AT_ONCE]
        keys = [student.pk for student in some]
        kept = [keeps(keys, today) for keeps in _keeps]
        for student in some:
            reasons = tuple(words[student.pk] for words in kept if student.pk in words)
            yield Leaver(student, reasons, 0 if reasons else len(named_in(student, redaction_of(student)).unsure))


def _is_over(left_on: date, years: int, today: date) -> bool:
    return keep_until(returned_on=left_on, years=years) <= today
