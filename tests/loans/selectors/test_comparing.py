"""What it went out with, and what changed."""

from __future__ import annotations

from datetime import timedelta

from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity
from inventory.models import Purpose
from inventory.rules.facts import FindingFact
from inventory.services.inspecting import (
    answer_safety,
    finish_inspection,
    look_at_rest,
    record_finding,
    start_inspection,
)
from loans.models import Loan
from loans.rules.compare import Change
from loans.selectors.comparing import compare_inspections, finding_in_words, findings_in_words, handed_out_with
from tests.factories import NOW
from tests.loans.makers import make_agreement, make_loan


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
    [row] = compare_inspections(loan=loan, taken_back=walk)
    assert (row.part, row.fault, row.before, row.change) == ("bell_bow", "dent_small", None, Change.NEW)
    assert row.cause is not None


def test_what_was_repaired_before_it_went_out_is_neither_on_the_paper_nor_compared(school, director):
    loan = make_loan(school=school, actor=director)
    repaired, wrong = NOW - timedelta(minutes=1), NOW + timedelta(minutes=1)
    for part, closed_at in (("bell_bow", repaired), ("pistons", loan.lent_at), ("leadpipe", wrong), ("ferrules", None)):
        loan.hand_out.findings.create(
            instrument=loan.instrument,
            part=part,
            fault="dent_small",
            severity="light",
            found_at=NOW,
            closed_at=closed_at,
        )
    assert [fact.part for fact in handed_out_with(loan)] == ["leadpipe", "ferrules"]
    lines = make_agreement(loan).facts["findings"]
    assert [line.partition(":")[0] for line in lines] == ["Leadpipe", "Ferrules"]
    assert {row.part for row in compare_inspections(loan=loan, taken_back=None)} == {"leadpipe", "ferrules"}


def test_without_a_return_nothing_has_changed(school, director):
    loan = make_loan(school=school, actor=director)
    rows = compare_inspections(loan=loan, taken_back=None)
    assert all(row.change is Change.SAME for row in rows)
    assert handed_out_with(Loan()) == ()


def test_findings_are_lines_with_their_severity():
    facts = [FindingFact(part="third_valve_slide", fault="slide_seized", severity=Severity.MODERATE)]
    [line] = findings_in_words(catalog().kinds["trumpet"], facts)
    assert line == f"Third valve slide: {catalog().faults['slide_seized'].name}, moderate"


def test_a_finding_is_put_in_the_words_of_the_trade():
    trumpet = catalog().kinds["trumpet"]
    where, what = finding_in_words(trumpet, part="third_valve_slide", place="", fault="slide_seized")
    assert where == "Third valve slide"
    assert what == catalog().faults["slide_seized"].name
    assert finding_in_words(trumpet, part="lost_part", place="x", fault="lost_fault") == ("Lost part x", "lost fault")
