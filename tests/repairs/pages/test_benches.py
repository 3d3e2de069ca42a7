from __future__ import annotations

from inventory.catalog.load import catalog
from repairs.models import Bench
from repairs.pages.benches import bench_lines
from tests.factories import make_bench
from tests.repairs.makers import make_job

FIRST = [code for code, tool in catalog().tools.items() if tool.starter]


def cannot():
    ((_, words),) = bench_lines(Bench.objects.all())
    return words


def test_a_bench_says_what_it_lacks_and_how_much_lies_on_it(school, tech):
    make_bench(school=school, tools=FIRST, has_torch=True, has_chemicals=True)
    assert cannot() == []
    Bench.objects.update(tools=[], has_torch=False)
    assert cannot()[0] == "no torch"
    assert "and " in cannot()[-1]


def test_open_jobs_are_counted(school, tech):
    make_job(school=school, actor=tech)
    assert [bench.jobs_open for bench, _ in bench_lines(Bench.objects.all())] == [1]
