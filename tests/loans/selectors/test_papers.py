"""What the signed paper says, and how long it is kept."""

from __future__ import annotations

from datetime import timedelta

from inventory.models import District, Instrument
from loans.selectors import (
    agreement_paper,
    papers_past_their_time,
    papers_within_their_time,
)
from loans.services import return_loan
from tests.factories import NOW, TODAY, make_ready_instrument, make_student
from tests.loans.makers import make_agreement, make_loan, make_return_walk


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


def test_papers_are_kept_for_the_districts_years_after_the_return_and_for_ever_where_none_are_named(school, director):
    loan = make_loan(school=school, actor=director)
    agreement = make_agreement(loan)
    back = NOW + timedelta(days=3)
    return_loan(loan=loan, taken_back=make_return_walk(loan, at=back), accessories_back={}, actor=director, at=back)
    ten_years_on = TODAY + timedelta(days=3653)
    assert list(papers_past_their_time(today=ten_years_on)) == []
    District.objects.update(keep_papers_years=4)
    [(held, until)] = papers_within_their_time(loan.student, at=back)
    assert (held, until.year) == (agreement, TODAY.year + 4)
    assert list(papers_past_their_time(today=until - timedelta(days=1))) == []
    assert list(papers_past_their_time(today=until)) == [(agreement, until)]


def test_a_paper_whose_horn_is_still_out_is_past_no_time(school, director):
    make_agreement(make_loan(school=school, actor=director))
    District.objects.update(keep_papers_years=1)
    assert list(papers_past_their_time(today=TODAY + timedelta(days=3653))) == []
