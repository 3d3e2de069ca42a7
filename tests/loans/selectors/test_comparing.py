"""What changed while an instrument was out, from its two inspections."""

from __future__ import annotations

from datetime import timedelta

from inventory.models import Purpose
from inventory.services.inspecting import (
    answer_safety,
    finish_inspection,
    look_at_rest,
    record_finding,
    start_inspection,
)
from loans.models import Loan
from loans.rules.compare import Change
from loans.selectors import compare_inspections, facts_by_inspection, facts_of
from tests.factories import NOW
from tests.loans.makers import make_loan


def walked_back(loan: Loan, findings: list[tuple[str, str, str]]):
    later = NOW + timedelta(days=90)
    walk = start_inspection(
        instrument=loan.instrument, purpose=Purpose.RETURN, actor=loan.actor, at=later, compared_with=loan.hand_out
    )
    answer_safety(inspection=walk, is_safe=True, actor=loan.actor, at=later)
    for part, fault, severity in findings:
        record_finding(inspection=walk, part=part, fault=fault, severity=severity, actor=loan.actor, at=later)
    look_at_rest(inspection=walk, actor=loan.actor, at=later)
    return finish_inspection(inspection=walk, actor=loan.actor, at=later)


def test_a_new_dent_is_told_from_what_was_there(school, director):
    loan = make_loan(school=school, actor=director)
    walk = walked_back(loan, [("bell_bow", "dent_small", "moderate")])
    [row] = compare_inspections(instrument=loan.instrument, hand_out=loan.hand_out, taken_back=walk)
    assert (row.part, row.fault, row.before, row.change) == ("bell_bow", "dent_small", None, Change.NEW)
    assert row.cause is not None
    assert facts_of(walk) == facts_by_inspection([walk])[walk.pk]


def test_without_a_return_nothing_has_changed(school, director):
    loan = make_loan(school=school, actor=director)
    rows = compare_inspections(instrument=loan.instrument, hand_out=loan.hand_out, taken_back=None)
    assert all(row.change is Change.SAME for row in rows)
    assert facts_of(None) == ()
