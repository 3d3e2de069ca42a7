"""Every fault of every kind that a bench cannot mend leads to a named kind of work for a shop."""

from __future__ import annotations

from itertools import product

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.names import methods_for
from inventory.catalog.schema import Severity
from inventory.rules.facts import FindingFact
from repairs.profiles import bench_profile
from repairs.rules.plan import plan_work
from repairs.rules.plan.case import WATCHING
from repairs.rules.shop_work import asked_for, is_paid, main_work, work_for, works_of

pytestmark = pytest.mark.pure
TRADE = catalog()


def findings_on(kind):
    for part in kind.parts:
        for fault, severity in product(sorted(TRADE.faults_at(part)), Severity):
            yield FindingFact(
                part=part.code, fault=fault, severity=severity, place=part.places[0].code if part.places else ""
            )


@pytest.mark.parametrize("code", sorted(TRADE.kinds))
def test_every_fault_of_a_kind_leads_to_work_that_is_offered_for_it_with_a_price(code):
    kind = TRADE.kinds[code]
    works = works_of(TRADE, kind)
    for finding in findings_on(kind):
        asked = asked_for(TRADE, kind, finding)
        assert asked.method, finding
        assert asked.method in works or WATCHING.intersection(TRADE.methods[asked.method].tags), finding
        assert asked.fee_low_amount <= asked.fee_high_amount


@pytest.mark.parametrize("code", sorted(TRADE.kinds))
def test_what_the_smallest_bench_sends_out_is_named(code):
    kind = TRADE.kinds[code]
    bench = bench_profile("basic", catalog=TRADE)
    sent = 0
    for finding in findings_on(kind):
        plan = plan_work(kind=kind, catalog=TRADE, findings=(finding,), bench=bench)
        for one in plan.send_out:
            sent += 1
            assert one.method or work_for(TRADE, kind, one.finding), finding
    assert sent


@pytest.mark.parametrize("code", ["trumpet", "sax_alto", "cello"])
def test_work_with_a_fee_is_asked_for_before_other_work(code):
    kind = TRADE.kinds[code]
    roles = {part.code: part.role for part in kind.parts}
    paid = 0
    for one in findings_on(kind):
        codes = methods_for(
            catalog=TRADE, kind=kind, fault=one.fault, role=roles[one.part], severity=one.severity
        )  # fmt: skip
        if any(is_paid(TRADE, TRADE.methods[code]) and not WATCHING & set(TRADE.methods[code].tags) for code in codes):
            paid += 1
            assert is_paid(TRADE, work_for(TRADE, kind, one)), one
    assert paid


def test_a_dent_that_a_bench_would_leave_is_ironed_out_by_a_shop():
    dent = FindingFact(part="bell", fault="bell_bent", severity=Severity.LIGHT)
    method = work_for(TRADE, TRADE.kinds["trumpet"], dent)
    assert method.code == "bell_iron"


def test_a_part_or_a_fault_that_is_gone_is_no_named_work():
    kind = TRADE.kinds["trumpet"]
    for part, fault in (("no_such_part", "dent"), ("bell", "no_such_fault")):
        lost = FindingFact(part=part, fault=fault, severity=Severity.LIGHT)
        assert work_for(TRADE, kind, lost) is None
        assert asked_for(TRADE, kind, lost).method == ""


def test_an_order_counts_as_its_dearest_work_and_watching_counts_last():
    kind = TRADE.kinds["trumpet"]
    named = [asked_for(TRADE, kind, finding) for finding in findings_on(kind)]
    watched = next(one for one in named if WATCHING.intersection(TRADE.methods[one.method].tags))
    done = [one for one in named if not WATCHING.intersection(TRADE.methods[one.method].tags)]
    dearest = max(one.fee_high_amount for one in done)
    work = main_work(TRADE, [watched, *done])
    assert dearest == max(one.fee_high_amount for one in done if one.method == work)
    assert main_work(TRADE, [watched]) == watched.method
    assert main_work(TRADE, []) == ""
