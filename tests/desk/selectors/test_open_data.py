"""A program reads some rows at a time, of the schools its token opens alone."""

from __future__ import annotations

import pytest

from desk.selectors.open_data import Slice, instruments_for, jobs_for, loans_for, schools_for, values_for
from inventory.models import Instrument
from tests.factories import TODAY, make_instrument, make_school
from tests.inventory.leaving_makers import make_disposal
from tests.inventory.makers import make_integration_row
from tests.loans.makers import make_loan
from tests.repairs.makers import make_job

pytestmark = pytest.mark.django_db
ALL = Slice(limit=100)


def numbers(integration, part=ALL, **asked):
    return [row.asset_number for row in instruments_for(integration, part, today=TODAY, **asked)]


def test_one_school_or_all_of_them(school):
    ours, other = make_instrument(school=school), make_instrument(school=make_school(code="ZZZ"))
    own, every = make_integration_row(name="own", school=school), make_integration_row(name="every")
    assert (numbers(own), numbers(every)) == ([ours.asset_number], [ours.asset_number, other.asset_number])
    assert numbers(every, Slice(limit=9, school="ZZZ")) == [other.asset_number]
    assert numbers(own, Slice(limit=9, school="ZZZ")) == []
    assert [one.code for one in schools_for(own)] == [school.code]
    assert [one.history.asset_number for one in values_for(own, ALL, on=TODAY)[0]] == [ours.asset_number]


def test_pages_follow_one_another_without_gap_or_repeat(school):
    made = [make_instrument(school=school).asset_number for _ in range(5)]
    every, read, after = make_integration_row(), [], ""
    while page := numbers(every, Slice(limit=2, after=after)):
        read, after = read + page, page[-1]
    assert read == made
    first, last = values_for(every, Slice(limit=2), on=TODAY)
    rest, end = values_for(every, Slice(limit=4, after=last), on=TODAY)
    assert ([one.history.asset_number for one in (*first, *rest)], end) == (made, "")


def test_a_merged_record_is_none_of_its_own(school):
    kept, merged = make_instrument(school=school), make_instrument(school=school)
    Instrument.objects.filter(pk=merged.pk).update(merged_into=kept)
    assert numbers(make_integration_row()) == [kept.asset_number]


def test_what_left_is_listed_and_what_was_entered_in_error_is_not(school):
    sold, error = make_instrument(school=school), make_instrument(school=school)
    make_disposal(sold)
    make_disposal(error, way="error")
    assert numbers(make_integration_row()) == [sold.asset_number]


def test_open_loans_and_jobs_alone(school):
    loan, job, every = make_loan(school=school), make_job(school=school), make_integration_row()
    assert [row.pk for row in loans_for(every, ALL, is_open=True)] == [loan.pk]
    assert [row.pk for row in jobs_for(every, ALL, is_open=True)] == [job.pk]
    assert loans_for(every, Slice(limit=9, after=str(loan.pk)), is_open=False) == []
    assert jobs_for(make_integration_row(name="other", school=make_school(code="ZZZ")), ALL, is_open=False) == []
