"""The nightly run: twice the same day makes nothing new, nor does a night on which the clock is changed."""

from __future__ import annotations

import io
from datetime import date, timedelta

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django_tasks_db.models import DBTaskResult

from desk.management.commands.nightly import STEPS
from loans.models import Loan, Notice
from loans.selectors.notices import MAIL_TASK
from tests.factories import make_student
from tests.loans.makers import make_agreement, make_loan

pytestmark = pytest.mark.django_db


def said(*args: str) -> str:
    out = io.StringIO()
    call_command("send_notices", *args, stdout=out)
    assert "Reed" not in out.getvalue()
    return out.getvalue()


def test_twice_a_day_and_over_the_change_of_the_clock_each_is_made_once(school, director, settings):
    settings.MAIL_IS_SET = True
    student = make_student(school=school, name="Robin Reed", guardian_name="Gale Reed", guardian_contact="g@a.example")
    loan = make_loan(school=school, student=student, actor=director)
    due_on = date(2027, 3, 14)  # the day that has 23 hours in Chicago
    Loan.objects.filter(pk=loan.pk).update(due_on=due_on, is_signed_elsewhere=True)
    counts = []
    for days in range(-8, 5):
        for _ in range(2):
            said("--date", (due_on + timedelta(days=days)).isoformat())
        counts.append(Notice.objects.count())
    assert counts == [0, *[1] * 10, *[2] * 2]
    assert DBTaskResult.objects.filter(task_path=MAIL_TASK).count() == 2
    assert sorted(Notice.objects.values_list("sort", "about_on")) == [("due_soon", due_on), ("overdue", due_on)]


def test_it_says_what_was_made_and_runs_at_night(school, director):
    make_loan(school=school, actor=director)
    assert "0 to be mailed, 1 to be printed; 1 letters wait" in said("--date", "2026-10-01")
    assert ("send_notices", {}) in STEPS
    with pytest.raises(CommandError):
        call_command("send_notices", "--date", "tomorrow")


def test_a_letter_that_is_no_longer_true_is_left_unprinted(school, director):
    loan = make_loan(school=school, actor=director)
    said("--date", "2026-10-01")
    make_agreement(loan)
    assert "0 to be mailed, 0 to be printed; 0 letters wait" in said("--date", "2026-10-02")
    assert Notice.objects.get().dropped_at is not None
