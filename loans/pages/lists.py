"""The lists of loans and of students as rows of a file. No contact is in them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from django.utils.timezone import localdate
from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from core.sheets import OutValue
from inventory.rules.playing import level_name
from loans.models import Loan, Student

LOAN_HEADER = (
    _("Number"), _("Kind"), _("Maker"), _("Serial"), _("Student"), _("Grade"), _("School"), _("Since"), _("Due"),
    _("Returned"), _("Agreement"),
)  # fmt: skip
STUDENT_HEADER = (
    _("Student"),
    _("Grade"),
    _("School"),
    _("Plays at"),
    _("Waiting for"),
    _("Out now"),
    pgettext_lazy("student", "Left"),
)


def loan_rows(
    loans: Iterable[Loan], *, named: frozenset[int], lending: frozenset[int]
) -> Iterator[tuple[OutValue, ...]]:
    """Students are named at the schools in ``named``, those who opted out of directories only at those in ``lending``."""
    for loan in loans:
        is_named = loan.school_id in (lending if loan.student.is_private else named)
        instrument = loan.instrument
        yield (
            instrument.asset_number,
            instrument.kind.name,
            " ".join(filter(None, (instrument.maker, instrument.model))),
            instrument.serial,
            loan.student.sort_name or str(loan.student) if is_named else gettext("a student"),
            loan.student.grade if is_named else "",
            loan.school.name,
            loan.lent_on,
            loan.due_on,
            localdate(loan.returned_at) if loan.returned_at else None,
            gettext("signed") if hasattr(loan, "agreement") else gettext("not signed"),
        )


def student_rows(students: Iterable[Student]) -> Iterator[tuple[OutValue, ...]]:
    """Students with how many instruments each has now (``out``)."""
    for student in students:
        yield (
            student.sort_name or student.name,
            student.grade,
            student.school.name,
            str(level_name(student.level)),
            student.waits_for,
            student.out,  # type: ignore[attr-defined]  # annotated
            student.left_on,
        )
