"""What a family reads, in its language, and what stands in the window of the envelope."""

from __future__ import annotations

import pytest
from django.utils.translation import override

from inventory.services.care import report_problem
from loans.models import Guardian, Notice
from loans.pages.letters import letter_of
from loans.services.notices import tell_of_report
from tests.factories import NOW, TODAY, make_student
from tests.loans.makers import make_loan

pytestmark = pytest.mark.django_db


def test_a_letter_has_the_school_the_person_and_what_came_with_it(school, director):
    school.address, school.phone = "1 Elm Street, Anywhere", "555-0100"
    school.save()
    student = make_student(school=school, name="Robin Reed", grade="7", guardian_name="Gale Reed")
    loan = make_loan(school=school, student=student, actor=director)
    notice = Notice(loan=loan, guardian=student.guardian, sort="overdue", about_on=loan.due_on)
    letter, number = letter_of(notice, today=TODAY), loan.instrument.asset_number
    assert letter.sender == ("Elm Street Middle", "1 Elm Street, Anywhere", "555-0100")
    assert letter.to == ("Gale Reed", "Student: Robin Reed, grade 7")
    assert letter.subject == f"Trumpet {number}: was due back on April 2, 2027"
    assert letter.greeting == "Dear Gale Reed,"
    assert "It went out with: 1 × case, 1 × mouthpiece" in letter.paragraphs[1]
    assert letter.text.endswith("\n\nDana Director\nElm Street Middle\n1 Elm Street, Anywhere\n555-0100\n")


def test_an_address_stands_in_the_window_in_place_of_the_student(school, director):
    student = make_student(school=school, name="Robin Reed", guardian_name="Gale Reed")
    student.guardians.update(address="12 Elm St\nApt 4\nAnywhere, KS 66002")
    loan = make_loan(school=school, student=student, actor=director)
    letter = letter_of(Notice(loan=loan, guardian=student.guardian, sort="overdue", about_on=loan.due_on), today=TODAY)
    assert letter.to == ("Gale Reed", "12 Elm St", "Apt 4", "Anywhere, KS 66002")
    assert "Robin Reed" in letter.text


def test_without_a_guardian_it_goes_to_the_family_and_an_adult_gets_it_in_person(school, director):
    nobody = make_student(school=school, name="Robin Reed", guardian_name="")
    adult = make_student(school=school, who="staff", grade="", name="Pat Player")
    letters = [
        letter_of(
            Notice(loan=make_loan(school=school, student=who, actor=director), sort="signature", about_on=TODAY),
            today=TODAY,
        )
        for who in (nobody, adult)
    ]
    assert [one.to for one in letters] == [
        ("To the family of Robin Reed", "Student: Robin Reed, grade 6"),
        ("Pat Player",),
    ]
    assert [one.greeting for one in letters] == ["To the family of Robin Reed,", "Dear Pat Player,"]


@pytest.mark.parametrize(
    ("facts", "says", "says_not"),
    [
        ({}, "tráigalo a Elm Street Middle lo antes posible", "puede usar"),
        ({"bring_on": "2026-09-21"}, "tráigalo a Elm Street Middle el 21 de septiembre de 2026", "lo antes posible"),
        (
            {"spare": "TD-0099", "spare_kind": "cornet"},
            "Robin Reed puede usar otro de los nuestros: Corneta, número TD-0099",
            "taller",
        ),
    ],
)
def test_a_report_is_answered_with_what_to_do(school, director, facts, says, says_not):
    student = make_student(school=school, name="Robin Reed")
    Guardian.objects.filter(student=student).update(language="es")
    loan = make_loan(school=school, student=student, actor=director)
    report = report_problem(instrument=loan.instrument, text="A valve sticks.", at=NOW)
    notice = tell_of_report(loan=loan, report=report, facts=facts, actor=director, at=NOW)
    text = letter_of(notice, today=TODAY).text
    assert says in text
    assert says_not not in text
    assert "A valve sticks" not in text  # whoever wrote that may be anybody


def test_a_letter_in_english_stays_so_where_the_school_reads_spanish(school, director):
    student = make_student(school=school, name="Robin Reed", guardian_name="Gale Reed")
    loan = make_loan(school=school, student=student, actor=director)
    notice = Notice(loan=loan, guardian=student.guardian, sort="overdue", about_on=loan.due_on)
    with override("es-mx"):
        in_spanish = letter_of(notice, today=TODAY)
    assert in_spanish == letter_of(notice, today=TODAY)
