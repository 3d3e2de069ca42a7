"""Reads of loans: what is late, who may read names, what changed, what the paper says."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.access import may_at
from inventory.catalog.load import catalog
from inventory.models import Instrument, Purpose
from inventory.services.inspecting import (
    answer_safety,
    finish_inspection,
    look_at_rest,
    record_finding,
    start_inspection,
)
from loans.models import Loan
from loans.selectors import (
    accessories_compared,
    agreement_paper,
    comparison,
    finding_in_words,
    history_of,
    open_loan_of,
    schools_with_names,
    students_of,
)
from loans.services import note_student_left, return_loan
from tests.factories import NOW, TODAY, make_instrument, make_ready_instrument, make_student
from tests.loans.makers import make_agreement, make_loan, make_return_walk


@pytest.mark.parametrize(
    ("role", "names", "contacts"), [("director", True, True), ("auditor", True, False), ("administrator", False, False)]
)
def test_who_reads_names_and_who_reads_contacts(request, school, role, names, contacts):
    user = request.getfixturevalue(role)
    assert (school.pk in schools_with_names(user)) is names
    assert may_at(user, "loans.view_student", school.pk) is contacts


def test_the_list_to_choose_from_leaves_out_who_left_and_counts_what_each_has(school, director):
    has = make_student(school=school, name="A")
    make_loan(school=school, student=has)
    gone = make_student(school=school, name="B")
    note_student_left(student=gone, left_on=TODAY, actor=director, at=NOW)
    fresh = make_student(school=school, name="C")
    assert [(row, row.out) for row in students_of(school)] == [(has, 1), (fresh, 0)]


def test_the_open_loan_is_found_and_a_closed_one_is_history(school, director):
    loan = make_loan(school=school, actor=director)
    assert open_loan_of(loan.instrument) == loan
    later = NOW + timedelta(days=3)
    return_loan(loan=loan, taken_back=make_return_walk(loan, at=later), accessories_back={}, actor=director, at=later)
    assert open_loan_of(loan.instrument) is None
    assert history_of(loan.student) == [loan]


def test_a_finding_is_said_in_the_words_of_the_trade(school):
    horn = make_instrument(school=school)
    where, what = finding_in_words(horn, part="third_valve_slide", place="", fault="slide_seized")
    assert where == "Third valve slide"
    assert what == catalog().faults["slide_seized"].name
    assert finding_in_words(horn, part="lost_part", place="x", fault="lost_fault") == ("Lost part x", "lost fault")


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
    told = comparison(instrument=loan.instrument, hand_out=loan.hand_out, taken_back=walk)
    assert told.is_changed
    assert told.sentence == "1 new."
    [row] = told.rows
    assert (row.before, row.after, row.change, row.said) == ("—", "moderate", "new", "New")
    assert row.cause


def test_without_a_return_the_comparison_shows_the_hand_out(school, director):
    loan = make_loan(school=school, actor=director)
    told = comparison(instrument=loan.instrument, hand_out=loan.hand_out, taken_back=None)
    assert not told.is_changed
    assert told.sentence == "As it was handed out."


def test_what_did_not_come_back_is_marked(school, director):
    loan = make_loan(school=school, actor=director)
    assert {row["back"] for row in accessories_compared(loan)} == {None}
    later = NOW + timedelta(days=3)
    closed = return_loan(
        loan=loan,
        taken_back=make_return_walk(loan, at=later),
        accessories_back={"case": 1},
        actor=director,
        at=later,
    )
    short = {row["code"]: row["is_short"] for row in accessories_compared(closed)}
    assert short["mouthpiece"]
    assert not short["case"]


def test_the_paper_is_read_from_the_loan_as_it_stood(school, director):
    horn = make_ready_instrument(school=school, serial="77001")
    loan = make_loan(instrument=horn, actor=director)
    agreement = make_agreement(loan)
    Instrument.objects.filter(pk=horn.pk).update(replacement_amount=1)
    paper = agreement_paper(agreement)
    assert (paper.serial, paper.student, paper.school) == ("77001", loan.student.name, school.name)
    assert paper.replacement_amount == loan.replacement_amount
    assert ("mouthpiece" in {name.split(" ")[0] for name, _ in paper.accessories}) is True
    assert paper.student_signature.startswith(b"\x89PNG")


def test_the_paper_never_carries_the_guardians_contact(school, director):
    student = make_student(school=school, guardian_contact="555-0199")
    paper = agreement_paper(make_agreement(make_loan(school=school, student=student, actor=director)))
    assert "555-0199" not in repr(paper)
