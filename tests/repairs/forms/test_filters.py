from __future__ import annotations

import pytest

from repairs.forms import JobFilterForm
from repairs.models import Bench, Job
from tests.factories import make_bench
from tests.repairs.makers import make_job


@pytest.mark.parametrize("data", [{}, {"state": "odd"}, {"bench": "nowhere"}, {"q": "\x00"}])
def test_unknown_values_count_as_not_given(school, tech, data):
    make_job(school=school, actor=tech)
    make_bench(school=school)
    form = JobFilterForm(data, benches=Bench.objects.all())
    assert form.narrow(Job.objects.all()).count() == 1
    assert not form.shows_closed


def test_one_bench_needs_no_choice(school):
    make_bench(school=school)
    assert "bench" not in JobFilterForm({}, benches=Bench.objects.all()).fields
