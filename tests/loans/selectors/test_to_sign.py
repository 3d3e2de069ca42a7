"""Which loan a paper is for, and which paper a loan was signed on."""

from __future__ import annotations

from core.photos import clean_scan
from loans.selectors.to_sign import loan_of_paper, loans_to_sign, signed_paper_for
from loans.services.to_sign import keep_signed_paper
from tests.factories import NOW, make_ready_instrument, make_student
from tests.loans.makers import ink, make_agreement, make_loan, make_paper


def test_a_paper_is_for_the_one_loan_its_student_has_to_sign_for(school, director):
    student = make_student(school=school)
    paper = make_paper(student=student, actor=director)
    assert loan_of_paper(paper) is None
    first = make_loan(school=school, student=student, actor=director)
    assert loan_of_paper(paper) == first
    assert loans_to_sign([student]) == {student.pk: first}
    second = make_loan(school=school, student=student, actor=director)
    assert loan_of_paper(paper) is None  # of two, nobody knows which
    assert loans_to_sign([student]) == {}
    make_agreement(first)
    assert loan_of_paper(paper) == second


def test_a_loan_takes_only_a_paper_of_its_student_and_instrument(school, director):
    student = make_student(school=school)
    other = make_ready_instrument(school=school)
    for one, named in ((make_student(school=school), None), (student, other)):
        paper = make_paper(student=one, instrument=named, actor=director)
        keep_signed_paper(paper=paper, scan=clean_scan(ink()), actor=director, at=NOW)
    loan = make_loan(school=school, student=student, actor=director)
    assert signed_paper_for(loan) is None
    mine = make_paper(student=student, actor=director)
    assert signed_paper_for(loan) is None
    keep_signed_paper(paper=mine, scan=clean_scan(ink()), actor=director, at=NOW)
    assert signed_paper_for(loan) == mine
