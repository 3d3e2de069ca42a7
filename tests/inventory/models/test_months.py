"""Month ends are summed over the schools asked for."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from inventory.models import FleetMonth
from inventory.services.months import keep_month
from tests.factories import NOW, make_school

D = Decimal
AUGUST = date(2026, 8, 31)


@pytest.mark.django_db
def test_sums_are_those_of_the_schools(school):
    oak = make_school()
    sums = {school.pk: (2, D("30.50"), D(900)), oak.pk: (3, D(10), D(100))}
    assert keep_month(ends_on=AUGUST, sums=sums, actor=None, at=NOW) == 2
    assert list(FleetMonth.objects.sums()) == [(AUGUST, 5, D("40.50"), D(1000))]
    assert list(FleetMonth.objects.filter(school=oak).sums()) == [(AUGUST, 3, D(10), D(100))]


def test_it_is_called_by_its_month():
    assert str(FleetMonth(ends_on=AUGUST)) == "2026-08"
