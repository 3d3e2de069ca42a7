from __future__ import annotations

from inventory.catalog.load import catalog
from repairs.models import Bench
from repairs.pages.benches import bench_lines, starter_tools
from tests.factories import make_bench
from tests.repairs.makers import make_job


def test_a_bench_says_what_it_lacks_and_how_much_lies_on_it(school, tech):
    make_bench(school=school, tools=starter_tools(), has_torch=True, has_chemicals=True)
    line = bench_lines(Bench.objects.all())[0]
    assert line.cannot == ()
    assert line.tools == len(starter_tools())
    Bench.objects.update(tools=[], has_torch=False)
    assert bench_lines(Bench.objects.all())[0].cannot[0] == "no torch"
    assert "and " in bench_lines(Bench.objects.all())[0].cannot[-1]


def test_open_jobs_are_counted(school, tech):
    make_job(school=school, actor=tech)
    assert [line.jobs_open for line in bench_lines(Bench.objects.all())] == [1]


def test_the_first_tools_are_the_catalogs():
    assert set(starter_tools()) == {code for code, tool in catalog().tools.items() if tool.starter}
