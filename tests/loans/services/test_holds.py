"""A hold keeps the record from everybody who would erase it, and the log says so without the reason."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.models import Event, Revision
from core.traces import log_differences
from loans.exceptions import StudentRefusedError
from loans.models import LegalHold
from loans.services import erase_student, lift_hold
from tests.factories import NOW, TODAY, make_student, new_nonce
from tests.loans.makers import make_hold, refused

pytestmark = pytest.mark.django_db


def test_nobody_erases_while_it_is_in_force(school, director, administrator):
    student = make_student(school=school, name="Robin Reed")
    hold = make_hold(student=student, actor=administrator)
    said = refused(erase_student, StudentRefusedError, student=student, actor=director, at=NOW)
    assert "A legal hold keeps this record until" in said
    lift_hold(hold=hold, actor=administrator, at=NOW)
    lift_hold(hold=hold, actor=director, at=NOW)
    erase_student(student=student, actor=director, at=NOW)
    student.refresh_from_db()
    assert student.erased_at is not None
    assert (LegalHold.objects.get().lifted_by, Event.objects.filter(act="hold_lifted").count()) == (administrator, 1)


def test_a_restored_backup_is_erased_again_in_spite_of_it(school, director):
    student = make_student(school=school)
    make_hold(student=student)
    erase_student(student=student, actor=director, at=NOW, even_if_out=True)
    student.refresh_from_db()
    assert student.erased_at is not None


def test_the_log_has_the_day_and_not_the_reason(school):
    hold = make_hold(student=make_student(school=school), reason="Unmistakable v. District")
    event = Event.objects.get(act="hold_set")
    assert event.tenant == school.pk
    assert event.after == {"student": hold.student_id, "ends_on": hold.ends_on.isoformat()}
    assert "Unmistakable" not in str([*Revision.objects.values_list("after")])
    assert [line for line in log_differences() if "hold" in line] == []


def test_its_reason_is_searched_for_the_names_that_are_erased(school, director, administrator):
    student = make_student(school=school, name="Robin Reed")
    hold = make_hold(student=student, reason="Asked for by Robin Reed's lawyer", actor=administrator)
    lift_hold(hold=hold, actor=administrator, at=NOW)
    erase_student(student=student, actor=director, at=NOW)
    hold.refresh_from_db()
    assert "Robin" not in hold.reason
    assert "lawyer" in hold.reason


@pytest.mark.parametrize("days", [-1, 31 * 366])
def test_a_day_that_is_past_or_beyond_reason_is_refused(school, days):
    student = make_student(school=school)
    refused(make_hold, StudentRefusedError, student=student, ends_on=TODAY + timedelta(days=days))


def test_the_same_form_sets_one(school, administrator):
    student, nonce = make_student(school=school), new_nonce()
    first = make_hold(student=student, actor=administrator, nonce=nonce)
    assert make_hold(student=student, actor=administrator, nonce=nonce) == first
    assert LegalHold.objects.count() == 1


def test_an_erased_student_is_held_no_more(school, director):
    student = make_student(school=school)
    erase_student(student=student, actor=director, at=NOW)
    refused(make_hold, StudentRefusedError, student=student)
