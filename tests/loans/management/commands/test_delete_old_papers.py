"""Papers past the district's period go; none before, and none while nobody has set one."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.utils import timezone

from inventory.models import District
from loans.models import Agreement, Loan
from tests.factories import make_district
from tests.loans.makers import make_agreement, make_loan


@pytest.fixture
def papers(db) -> tuple[Agreement, Agreement]:
    """One of a loan that ended four years ago, one of a loan that ended yesterday."""
    made = make_agreement(make_loan()), make_agreement(make_loan())
    for agreement, days in zip(made, (4 * 366, 1), strict=True):
        Loan.objects.filter(pk=agreement.loan_id).update(returned_at=timezone.now() - timedelta(days=days))
    return made


def said(*args: str) -> str:
    out = io.StringIO()
    call_command("delete_old_papers", *args, stdout=out)
    return out.getvalue()


def have_files() -> set[int]:
    return set(Agreement.objects.exclude(student_signature="").values_list("pk", flat=True))


def test_without_a_period_nothing_goes(papers):
    make_district()
    assert "every paper is kept" in said("--commit")
    assert have_files() == {papers[0].pk, papers[1].pk}


def test_only_what_is_past_its_time_goes_and_only_when_told(papers):
    make_district()
    District.objects.update(keep_papers_years=3)
    assert f"loan {papers[0].loan_id}," in said()
    assert "1 paper past their retention period" in said()
    assert have_files() == {papers[0].pk, papers[1].pk}
    assert "1 paper deleted" in said("--commit")
    assert have_files() == {papers[1].pk}
    assert "0 papers deleted" in said("--commit")
