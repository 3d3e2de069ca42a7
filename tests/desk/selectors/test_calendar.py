"""The days of a school: what its owner may see, by asset number."""

from __future__ import annotations

from datetime import timedelta

import pytest

from desk.selectors.calendar import due_back, entries_of
from inventory.services.calendars import calendar_link_of, make_calendar_link
from tests.factories import NOW, TODAY, make_user
from tests.loans.makers import make_loan

pytestmark = pytest.mark.django_db


def test_days_of_the_school_alone_and_none_for_who_sees_no_loans(school, director):
    loan = make_loan(school=school, actor=director)
    make_loan()
    assert due_back(school.pk, since=TODAY) == {loan.due_on: [loan.instrument.asset_number]}
    assert due_back(school.pk, since=loan.due_on + timedelta(days=1)) == {}
    entries = {}
    for who in (director, make_user("tech", school=school)):
        link = calendar_link_of(make_calendar_link(school=school, actor=who, at=NOW))
        entries[who] = entries_of(link, home="https://horns.example", today=TODAY)
    (due,) = entries[director]
    assert (due.uid, due.on) == (f"due-{school.pk}-{loan.due_on:%Y%m%d}@horns.example", loan.due_on)
    assert [found for who, found in entries.items() if who != director] == [[]]
