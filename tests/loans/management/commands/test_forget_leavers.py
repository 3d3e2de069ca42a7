"""Who left long ago is forgotten at night, the loans stay, and no line names anybody."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.utils import timezone

from core.models import Event
from core.pdf import PdfError
from desk.management.commands.nightly import STEPS
from inventory.services.figures import set_figures
from loans.models import Loan, Student
from loans.selectors.leavers import YEARS
from tests.factories import make_student, make_user
from tests.loans.makers import make_hold, make_loan

pytestmark = pytest.mark.django_db


@pytest.fixture
def leaver(school, director) -> Student:
    student = make_student(school=school, name="Robin Reed", guardian_name="Gale Reed")
    loan = make_loan(school=school, student=student, actor=director)
    Loan.objects.filter(pk=loan.pk).update(returned_at=timezone.now() - timedelta(days=2200), returned_to=director)
    Student.objects.filter(pk=student.pk).update(left_on=timezone.localdate() - timedelta(days=2200))
    return student


def said(*args: str) -> str:
    out = io.StringIO()
    call_command("forget_leavers", *args, stdout=out)
    assert "Reed" not in out.getvalue()
    return out.getvalue()


def test_at_night_nobody_is_erased_until_the_district_has_said_how_long_names_are_kept(leaver):
    assert "has not set" in said("--commit", "--if-set")
    leaver.refresh_from_db()
    assert leaver.name == "Robin Reed"
    set_figures(
        values={YEARS: "6"}, effective_on=timezone.localdate(), actor=make_user("administrator"), at=timezone.now()
    )
    assert "1 erased" in said("--commit", "--if-set")


def test_it_lists_and_only_with_commit_erases(leaver):
    assert f"student {leaver.pk}" in (listed := said())
    assert "1 to erase" in listed
    leaver.refresh_from_db()
    assert leaver.name == "Robin Reed"
    assert "1 erased, 0 kept" in said("--commit")
    leaver.refresh_from_db()
    assert (leaver.name, leaver.grade, leaver.erased_at is None) == ("", "", False)
    assert leaver.loans.count() == 1
    assert Event.objects.get(act="student_erased").actor is None
    assert "0 erased, 0 kept" in said("--commit")


def test_as_of_another_day(leaver):
    Student.objects.filter(pk=leaver.pk).update(left_on=timezone.localdate() - timedelta(days=30))
    assert "0 to erase" in said()
    day = timezone.localdate() + timedelta(days=366 * 6)
    assert "1 to erase" in said("--date", day.isoformat())
    with pytest.raises(CommandError):
        said("--date", "tomorrow")


def test_who_is_held_is_said_to_be_and_stays(leaver):
    hold = make_hold(student=leaver, ends_on=timezone.localdate() + timedelta(days=9), at=timezone.now())
    assert f"not yet, a legal hold, until {hold.ends_on}" in said("--commit")
    leaver.refresh_from_db()
    assert leaver.erased_at is None


def test_one_that_fails_keeps_no_other_from_being_forgotten(leaver, school, monkeypatch):
    other = make_student(school=school)
    Student.objects.filter(pk=other.pk).update(left_on=timezone.localdate() - timedelta(days=2300))

    def fails(*, student, **_given):
        if student.pk == other.pk:
            raise PdfError("no paper")

    monkeypatch.setattr("loans.management.commands.forget_leavers.print_before_erasing", fails)
    assert "1 erased, 1 kept" in said("--commit")
    leaver.refresh_from_db()
    assert leaver.erased_at is not None


def test_it_runs_at_night():
    assert ("forget_leavers", {"commit": True, "if_set": True}) in STEPS
