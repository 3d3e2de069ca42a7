from __future__ import annotations

from datetime import time

import pytest

from desk.forms.days import BenchDayForm
from repairs.models import Bench
from tests.factories import make_bench


@pytest.mark.parametrize(
    ("data", "start", "hours"),
    [
        (None, time(8, 0), 4.0),
        ({"hours": "2.5", "start": "13:15"}, time(13, 15), 2.5),
        ({"hours": "99", "start": "13:15"}, time(13, 15), 4.0),
        ({"hours": "3", "start": "late"}, time(8, 0), 3.0),
    ],
)
def test_what_makes_no_sense_for_a_day_counts_as_usual(db, data, start, hours):
    form = BenchDayForm(data, benches=Bench.objects.all(), start=time(8, 0))
    assert (form.start_time, form.hours_long, form.chosen_bench) == (start, hours, None)


def test_the_query_of_the_sheet_holds_what_the_page_shows(school):
    bench, _ = make_bench(school=school), make_bench(school=school)
    data = {"hours": "2.5", "start": "13:15", "bench": bench.code}
    form = BenchDayForm(data, benches=Bench.objects.all(), start=time(8, 0))
    assert form.query == f"start=13%3A15&hours=2.5&bench={bench.code}"
