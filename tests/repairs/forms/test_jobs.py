from __future__ import annotations

from datetime import date

import pytest

from repairs.forms.jobs import JobFilterForm, OpenJobForm
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


def test_a_bench_is_named_by_its_code(school):
    bench = make_bench(school=school)
    form = OpenJobForm({"bench": bench.code, "due_on": "2027-01-15"}, benches=Bench.objects.all())
    assert form.is_valid()
    assert form.cleaned_data.pop("nonce")
    assert form.cleaned_data == {"bench": bench, "because": "", "due_on": date(2027, 1, 15)}


def test_no_bench_is_refused_in_words(school):
    form = OpenJobForm({}, benches=Bench.objects.none())
    assert form.errors["bench"] == ["Choose a bench."]
