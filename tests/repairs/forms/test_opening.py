from __future__ import annotations

from datetime import date

from repairs.forms import OpenJobForm
from repairs.models import Bench
from tests.factories import make_bench


def test_a_bench_is_named_by_its_code(school):
    bench = make_bench(school=school)
    form = OpenJobForm({"bench": bench.code, "due_on": "2027-01-15"}, benches=Bench.objects.all())
    assert form.is_valid()
    assert form.cleaned_data == {"bench": bench, "because": "", "due_on": date(2027, 1, 15)}


def test_no_bench_is_refused_in_words(school):
    form = OpenJobForm({}, benches=Bench.objects.none())
    assert form.errors["bench"] == ["Choose a bench."]
