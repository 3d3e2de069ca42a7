"""What the signed paper says."""

from __future__ import annotations

from inventory.models import Instrument
from loans.models import Agreement
from loans.pages import AgreementPaper, agreement_paper
from loans.selectors import hand_out_facts
from tests.factories import make_ready_instrument, make_student
from tests.loans.makers import make_agreement, make_loan


def paper_of(agreement: Agreement) -> AgreementPaper:
    return agreement_paper(agreement, hand_out_facts(agreement))


def test_the_paper_is_read_from_the_loan_as_it_stood(school, director):
    horn = make_ready_instrument(school=school, serial="77001")
    loan = make_loan(instrument=horn, actor=director)
    agreement = make_agreement(loan)
    Instrument.objects.filter(pk=horn.pk).update(replacement_amount=1)
    paper = paper_of(agreement)
    assert (paper.serial, paper.student, paper.school) == ("77001", loan.student.name, school.name)
    assert paper.replacement_amount == loan.replacement_amount
    assert "mouthpiece" in {name.split(" ")[0] for name, _ in paper.accessories}
    assert paper.student_signature.startswith(b"\x89PNG")


def test_the_paper_never_carries_the_guardians_contact(school, director):
    student = make_student(school=school, guardian_contact="555-0199")
    paper = paper_of(make_agreement(make_loan(school=school, student=student, actor=director)))
    assert "555-0199" not in repr(paper)
