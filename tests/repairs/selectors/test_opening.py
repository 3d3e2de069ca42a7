from __future__ import annotations

from inventory.models import Instrument
from repairs.selectors.opening import opening_page
from tests.factories import make_inspection, make_instrument, make_ready_instrument
from tests.repairs.makers import STUCK, make_school_bench


def test_the_plan_depends_on_the_bench(school, tech):
    horn = make_instrument(school=school)
    rot = ("leadpipe", "red_rot", "severe")
    make_inspection(instrument=horn, findings=[STUCK, rot, ("bell", "dent_small", "light")], actor=tech)
    horn = Instrument.objects.get(pk=horn.pk)
    page = opening_page(horn, bench=make_school_bench(school, profile="basic"))
    assert page.has_work
    assert page.is_in_store
    assert any("red rot" in one.finding.lower() and one.why for one in page.sent_out)
    assert any("looks only" in one.why for one in page.left)
    assert page.cost_p80 >= page.cost_p50 > 0
    assert next(line for line in page.steps if line.rungs).where == "Third valve slide"


def test_a_horn_without_findings_has_no_work(school):
    page = opening_page(make_ready_instrument(school=school), bench=None)
    assert not page.has_work
    assert page.is_inspected
