"""The hours of mail on the days when the clock is changed; which words stay true."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from inventory.models import ProblemReport
from inventory.selectors.figures import enter
from inventory.services.care import report_problem
from inventory.services.figures import set_figures
from loans.models import Loan, Notice
from loans.selectors.notices import MAIL_TASK, is_still_true, mailed_from, notice_days, person_at
from loans.services.notices import tell_of_report
from loans.tasks import mail_notice
from tests.factories import NOW, TODAY
from tests.loans.makers import make_agreement, make_loan

pytestmark = pytest.mark.django_db


# Chicago: the second Sunday in March 2027 is the 14th (02:00 becomes 03:00), the first in November the 7th.
@pytest.mark.parametrize(
    ("now", "then"),
    [
        ("2027-03-13 02:00", "2027-03-15 12:00"),  # Friday 8 p.m. standard time; Monday 7 a.m. is an hour earlier
        ("2027-03-15 11:59", "2027-03-15 12:00"),
        ("2027-03-15 12:00", "2027-03-15 12:00"),
        ("2027-11-06 00:00", "2027-11-08 13:00"),  # Friday 7 p.m. daylight time
        ("2027-11-08 12:30", "2027-11-08 13:00"),
    ],
)
def test_mail_opens_by_the_clock_on_the_wall(now, then):
    found = mailed_from(datetime.fromisoformat(now).replace(tzinfo=UTC))
    assert found == datetime.fromisoformat(then).replace(tzinfo=UTC)


def test_a_district_sets_days_and_hours(administrator):
    set_figures(
        values={"notice_before_days": "10", "mail_opens_hour": "9"}, effective_on=TODAY, actor=administrator, at=NOW
    )
    enter(NOW)
    assert notice_days().before == 10
    early = datetime(2026, 9, 14, 13, 0, tzinfo=UTC)  # 8 a.m.
    assert mailed_from(early) == early + timedelta(hours=1)


def test_what_is_said_stays_true_until_a_return_a_signature_or_another_date():
    loan = make_loan(due_on=TODAY + timedelta(days=60))
    known: dict[str, Any] = {"loan": loan, "about_on": loan.due_on, "way": "letter", "made_at": NOW}
    asks = {sort: Notice.objects.create(sort=sort, **known) for sort in ("due_soon", "overdue", "signature")}

    def true_on(days: int) -> set[str]:
        day = loan.due_on + timedelta(days=days)
        return {sort for sort, one in asks.items() if is_still_true(one, today=day)}

    assert true_on(0) == {"due_soon", "signature"}
    assert true_on(1) == {"overdue", "signature"}
    make_agreement(loan)
    assert true_on(1) == {"overdue"}
    Loan.objects.update(due_on=loan.due_on + timedelta(days=5))
    assert true_on(-4) == true_on(1) == set()


def test_what_is_said_of_a_report_is_true_while_it_is_open_and_the_instrument_out(director):
    loan = make_loan()
    report = report_problem(instrument=loan.instrument, text="A valve sticks.", at=NOW)
    notice = tell_of_report(loan=loan, report=report, facts={}, actor=director, at=NOW)
    assert is_still_true(notice, today=TODAY)
    Loan.objects.update(returned_at=NOW)
    assert not is_still_true(notice, today=TODAY)
    Loan.objects.update(returned_at=None)
    ProblemReport.objects.update(closed_at=NOW)
    assert not is_still_true(notice, today=TODAY)


def test_the_path_by_which_the_task_is_found_is_its_own():
    assert mail_notice.module_path == MAIL_TASK


def test_families_ask_for_the_first_director(school, director):
    assert person_at(school) == director
    director.is_active = False
    director.save()
    assert person_at(school) is None
