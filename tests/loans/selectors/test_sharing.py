"""Who uses what, by class."""

from __future__ import annotations

import pytest

from loans.selectors.sharing import period_lines, shared_at
from tests.loans.makers import make_period, make_seat, make_shared_use


@pytest.mark.django_db
def test_the_classes_where_its_kind_is_played_with_whose_it_is():
    use = make_shared_use()
    school = use.instrument.school
    free = make_seat(place=make_period(school=school, place=9, name="Z"), kind_code="tuba")
    make_seat(place=make_period(school=school), kind_code="flute")
    lines = {line.period.pk: (line.seats, line.used_by) for line in period_lines(use.instrument)}
    assert lines == {use.period_id: ([use.seat], use.seat_id), free.period_id: ([free], None)}
    assert shared_at(school) == [use]
