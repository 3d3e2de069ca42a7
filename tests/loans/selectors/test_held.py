"""A copy holds everything that the rows hold on one student, and nothing of another."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.services.care import report_problem
from loans.selectors.held import held_on
from loans.services.ledger import enter_in_ledger
from tests.factories import NOW, TODAY, make_student, new_nonce
from tests.loans.makers import make_agreement, make_hold, make_loan, make_seat

pytestmark = pytest.mark.django_db


def test_everything_held_is_in_it(school, director):
    student = make_student(
        school=school, name="Robin Reed", grade="7", number="S-881", is_private=True, wants_kind="tuba",
        guardian_name="Gale Reed", guardian_contact="555-0177",
    )  # fmt: skip
    other = make_student(school=school, name="Ada Berg", guardian_contact="555-0100")
    agreement = make_agreement(make_loan(school=school, student=student, actor=director), guardian_signer="Gale Reed")
    make_loan(school=school, student=other, actor=director)
    make_seat(school=school, student=student, kind_code="tuba")
    enter_in_ledger(
        student=student, sort="fee", amount=Decimal(40), on=TODAY, note="rental", actor=director, at=NOW,
        nonce=new_nonce(),
    )  # fmt: skip
    make_hold(student=student, reason="Case 12")
    report_problem(instrument=agreement.loan.instrument, text="Robin Reed dropped it.", actor=director, at=NOW)
    sections = {section.title: section.lines for section in held_on(student)}
    assert list(sections) == [
        "The student", "Guardians", "Ensembles and classes", "Loans", "Account", "Protected from erasure",
        "Notes that name the student or a guardian",
    ]  # fmt: skip
    text = str(sections)
    for words in (
        "Robin Reed", "S-881", "The family opted out", "Tuba", "Gale Reed", "555-0177", "out now", "$40", "rental",
        agreement.loan.instrument.asset_number, "Robin Reed dropped it.",
    ):  # fmt: skip
        assert words in text, words
    assert "Ada" not in text
    assert "555-0100" not in text
    assert "Case 12" not in text, "why a record is held is for those who hold it"


def test_what_is_not_there_is_left_out(school):
    student = make_student(school=school, name="Robin Reed", guardian_name="")
    assert [section.title for section in held_on(student)] == ["The student"]
    assert all(text for section in held_on(student) for _, text in section.lines)
