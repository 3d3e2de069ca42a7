from __future__ import annotations

from typing import Any

from inventory.models import School
from tests.factories import make_student
from tests.loans.makers import (
    ink,
    make_addendum,
    make_agreement,
    make_assignment,
    make_ensemble,
    make_entry,
    make_grade_roll,
    make_hold,
    make_letter,
    make_loan,
    make_period,
    make_seat,
)
from tests.permission_matrix import Row
from tests.permission_matrix.makers import instrument_number


def loan_pk(school: School) -> tuple[Any, ...]:
    return (make_loan(school=school).pk,)


def addendum_pk(school: School) -> tuple[Any, ...]:
    agreement = make_agreement(make_loan(school=school))
    return (agreement.loan_id, make_addendum(agreement.loan).pk)


def signed_loan_pk(school: School) -> tuple[Any, ...]:
    return (make_agreement(make_loan(school=school)).loan_id,)


def scanned_loan_pk(school: School) -> tuple[Any, ...]:
    from core.photos import clean_scan

    return (make_agreement(make_loan(school=school), signed="paper", scan=clean_scan(ink())).loan_id,)


def student_pk(school: School) -> tuple[Any, ...]:
    return (make_student(school=school).pk,)


def payment_pk(school: School) -> tuple[Any, ...]:
    return (make_entry(student=make_student(school=school), sort="payment").pk,)


def ensemble_pk(school: School) -> tuple[Any, ...]:
    ensemble = make_ensemble(school=school)
    make_seat(school=school, place=ensemble, kind_code="tuba")
    return (ensemble.pk,)


def period_pk(school: School) -> tuple[Any, ...]:
    period = make_period(school=school)
    make_seat(school=school, place=period, kind_code="tuba")
    return (period.pk,)


def grade_roll_pk(school: School) -> tuple[Any, ...]:
    return (make_grade_roll(school=school).pk,)


def hold_pk(school: School) -> tuple[Any, ...]:
    return (make_hold(student=make_student(school=school)).pk,)


def notice_pk(school: School) -> tuple[Any, ...]:
    return (make_letter(school=school).pk,)


def assignment_pk(school: School) -> tuple[Any, ...]:
    return (make_assignment(school=school).pk,)


def assignment_line_pk(school: School) -> tuple[Any, ...]:
    line = make_assignment(school=school).lines.get()
    return line.assignment_id, line.pk


ROWS = {
    "loans:list": Row("loans.view_loan", own=False),
    "loans:loan": Row("loans.view_loan", make=loan_pk),
    "loans:agreement": Row("loans.view_agreement", make=signed_loan_pk),
    "loans:addendum": Row("loans.view_agreement", make=addendum_pk),
    "loans:make-agreement": Row("loans.lend_instrument", make=signed_loan_pk, method="post"),
    "loans:undo": Row("loans.lend_instrument", make=loan_pk),
    "loans:due": Row("loans.lend_instrument", make=loan_pk),
    "loans:renew": Row("loans.lend_instrument", make=loan_pk),
    "loans:due-dates": Row("loans.lend_instrument", own=False),
    "loans:scan": Row("loans.view_agreement", make=scanned_loan_pk),
    "loans:students": Row("loans.view_student", own=False),
    "loans:export-loans": Row("loans.view_loan", method="post", own=False),
    "loans:export-students": Row("loans.view_student", method="post", own=False),
    "loans:add-student": Row("loans.change_student", own=False),
    "loans:sharing": Row("loans.change_seat", make=instrument_number),
    "loans:grades": Row("loans.change_student", own=False),
    "loans:undo-grades": Row("loans.change_student", make=grade_roll_pk, method="post"),
    "loans:leavers": Row("loans.change_student", own=False),
    "loans:roster": Row("loans.change_student", own=False),
    "loans:roster-courses": Row("loans.change_student", own=False),
    "loans:roster-columns": Row("loans.change_student", own=False),
    "loans:roster-changes": Row("loans.change_student", own=False),
    "loans:give-up-roster": Row("loans.change_student", own=False, method="post"),
    "loans:student": Row("loans.view_student", make=student_pk),
    "loans:edit-student": Row("loans.change_student", make=student_pk),
    "loans:student-left": Row("loans.change_student", make=student_pk),
    "loans:merge-student": Row("loans.change_student", make=student_pk),
    "loans:erase-student": Row("loans.change_student", make=student_pk),
    "loans:ensembles": Row("loans.view_need", own=False),
    "loans:add-ensemble": Row("loans.change_seat", own=False),
    "loans:ensemble": Row("loans.change_seat", make=ensemble_pk),
    "loans:edit-ensemble": Row("loans.change_seat", make=ensemble_pk),
    "loans:ensemble-students": Row("loans.change_seat", make=ensemble_pk),
    "loans:add-period": Row("loans.change_seat", own=False),
    "loans:period": Row("loans.change_seat", make=period_pk),
    "loans:edit-period": Row("loans.change_seat", make=period_pk),
    "loans:period-students": Row("loans.change_seat", make=period_pk),
    "loans:assignments": Row("loans.assign", own=False),
    "loans:assignment": Row("loans.assign", make=assignment_pk),
    "loans:assignment-line": Row("loans.assign", make=assignment_line_pk),
    "loans:hand-out-list": Row("loans.assign", make=assignment_pk, method="post"),
    "loans:need": Row("loans.view_need", own=False),
    "loans:student-copy": Row("loans.view_student", make=student_pk, method="post"),
    "loans:holds": Row("loans.change_hold", make=student_pk),
    "loans:lift-hold": Row("loans.change_hold", make=hold_pk, method="post"),
    "loans:balances": Row("loans.view_ledger", own=False),
    "loans:yearly-fee": Row("loans.change_ledger", own=False),
    "loans:account": Row("loans.view_ledger", make=student_pk),
    "loans:enter": Row("loans.change_ledger", make=lambda school: (*student_pk(school), "payment")),
    "loans:statement": Row("loans.view_student", make=lambda school: (*student_pk(school), "en")),
    "loans:journal": Row("loans.view_ledger", own=False),
    "loans:export-ledger": Row("loans.view_ledger", method="post", own=False),
    "loans:reverse-entry": Row("loans.change_ledger", make=payment_pk),
    "loans:receipt": Row("loans.view_ledger", make=lambda school: (*payment_pk(school), "en")),
    "loans:notices": Row("loans.send_notice", own=False),
    "loans:letters": Row("loans.send_notice", method="post", own=False),
    "loans:letters-printed": Row("loans.send_notice", method="post", own=False),
    "loans:letter": Row("loans.send_notice", make=notice_pk),
    "loans:notice-came-back": Row("loans.send_notice", make=notice_pk, method="post"),
    "loans:undo-came-back": Row("loans.send_notice", make=notice_pk, method="post"),
    "loans:terms": Row("loans.view_terms", own=False),
    "loans:change-terms": Row("loans.change_terms", own=False),
}
