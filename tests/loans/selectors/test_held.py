"""A copy holds everything that the rows hold on one student, and nothing of another."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.services.care import report_problem
from loans.selectors.held import held_on
from loans.services.ledger import enter_in_ledger
from loans.services.merging import merge_students
from tests.factories import NOW, TODAY, make_student, new_nonce
from tests.loans.makers import (
    make_agreement,
    make_hold,
    make_loan,
    make_loss,
    make_paper,
    make_returned,
    make_seat,
    make_signing_link,
)

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


def test_what_stays_with_a_merged_record_and_what_is_known_of_a_loss_or_a_signing_is_in_it(school, director):
    """Common practice, no source: whoever asks for a copy gets all of it, wherever a double record keeps it."""
    kept, away = make_student(school=school, name="Robin Reed"), make_student(school=school, name="Robin Read")
    before = make_returned(school=school, student=away, actor=director)
    report_problem(instrument=before.instrument, text="Robin Read dropped it.", actor=director, at=NOW)
    merge_students(kept=kept, away=away, actor=director, at=NOW)
    lost = make_loan(school=school, student=kept, actor=director)
    link, _ = make_signing_link(lost)
    paper = make_paper(student=kept)
    make_loss(lost, circumstances="Left on the bus by a friend.")
    sections = {section.title: str(section.lines) for section in held_on(kept)}
    assert "Robin Read" in sections["The student"]
    assert before.instrument.asset_number in sections["Loans"]
    assert "Robin Read dropped it." in sections["Notes that name the student or a guardian"]
    assert link.guardian.name in sections["Agreements to sign"]
    assert paper.shown_code in sections["Agreements to sign"]
    assert "Left on the bus by a friend." in sections["Loss or theft"]
