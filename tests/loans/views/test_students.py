"""Pages about students."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from core.pdf import PdfError
from inventory.models import District, ProblemReport
from inventory.services.care import report_problem
from loans.models import Agreement, Guardian, Loan, Student
from loans.tasks import print_agreement
from tests.factories import NOW, make_district, make_school, make_student
from tests.loans.makers import make_agreement, make_loan

TYPED = {
    "name": "Quinn <b>Abernathy</b>",
    "grade": "6",
    "level": "first_year",
    "guardian1_name": "Lee",
    "guardian1_phone": "555-0188",
    "guardian1_address": "12  Elm St\r\n\r\nAnywhere, KS 66002",
}


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


def page_of(student, name="loans:student"):
    return reverse(name, args=[student.pk])


def test_a_student_is_added_and_shown_as_text(desk):
    answer = desk.post(reverse("loans:add-student"), TYPED, follow=True)
    assert "Quinn &lt;b&gt;Abernathy&lt;/b&gt;" in answer.text
    assert "555-0188" in answer.text
    assert Guardian.objects.get().address == "12 Elm St\nAnywhere, KS 66002"
    assert "12 Elm St<br>Anywhere, KS 66002" in answer.text


def test_what_is_refused_stays_typed(desk):
    answer = desk.post(reverse("loans:add-student"), TYPED | {"grade": ""})
    assert answer.status_code == 422
    assert "Quinn &lt;b&gt;" in answer.text
    assert not Student.objects.exists()


def test_a_change_is_kept(desk, school):
    student = make_student(school=school)
    desk.post(page_of(student, "loans:edit-student"), TYPED)
    assert Student.objects.get().guardian.phone == "555-0188"


@pytest.mark.parametrize("name", ["loans:student", "loans:edit-student", "loans:student-left", "loans:erase-student"])
def test_another_schools_student_does_not_exist_here(desk, name):
    other = make_student(school=make_school())
    assert desk.get(page_of(other, name)).status_code == 404
    assert desk.post(page_of(other, name), TYPED).status_code in {404, 405}
    assert Student.objects.get(pk=other.pk).name == other.name


def test_the_page_shows_every_loan_of_the_student(desk, school, director):
    loan = make_loan(school=school, actor=director)
    assert loan.instrument.asset_number in desk.get(page_of(loan.student)).text


def test_left_and_back_again(desk, school):
    student = make_student(school=school)
    desk.post(page_of(student, "loans:student-left"), {"left_on": "2026-09-01"})
    assert Student.objects.get().left_on.isoformat() == "2026-09-01"
    desk.post(page_of(student, "loans:student-left"), {"back": "1"})
    assert Student.objects.get().left_on is None


def test_a_day_of_leaving_that_is_none_is_asked_again(desk, school):
    assert desk.post(page_of(make_student(school=school), "loans:student-left"), {"left_on": ""}).status_code == 422


def test_erasing_asks_first_and_refuses_while_something_is_out(desk, school, director):
    loan = make_loan(school=school, actor=director)
    assert "cannot be undone" in desk.get(page_of(loan.student, "loans:erase-student")).text
    answer = desk.post(page_of(loan.student, "loans:erase-student"))
    assert answer.status_code == 422
    assert "Take the instrument back first" in answer.text
    free = make_student(school=school)
    desk.post(page_of(free, "loans:erase-student"))
    assert desk.get(page_of(free)).status_code == 404


def test_the_page_of_erasing_shows_where_the_name_may_stand_and_takes_out_what_is_ticked(desk, school, director):
    loan = make_loan(school=school, actor=director, student=make_student(school=school, name="Rosa <b>Lindqvist"))
    report_problem(instrument=loan.instrument, text="Rosa says <i>it</i> sticks", at=NOW)
    report = report_problem(instrument=loan.instrument, text="Lindy dropped it", at=NOW)
    Loan.objects.update(returned_at=NOW)
    url = page_of(loan.student, "loans:erase-student")
    page = desk.get(url).text
    assert "Rosa says &lt;i&gt;it&lt;/i&gt; sticks" in page
    assert "Lindy dropped it" not in page
    first = desk.post(url, {"nicknames": "Lindy"})
    assert first.status_code == 422
    assert "See above where these appear" in first.text
    assert "Lindy dropped it" in first.text
    assert Student.objects.get().name
    meant = f"inventory.problemreport:{report.pk}:text"
    assert desk.post(url, {"nicknames": "Lindy", "seen": "Lindy", "meant": [meant]}).status_code == 302
    texts = sorted(ProblemReport.objects.values_list("text", flat=True))
    assert texts == ["Rosa says <i>it</i> sticks", "[erased] dropped it"]


def test_an_unticked_place_stays_unticked_when_the_page_comes_again(desk, school, director):
    loan = make_loan(school=school, actor=director, student=make_student(school=school, name="Rosa Lindqvist"))
    report = report_problem(instrument=loan.instrument, text="Rosa says it sticks", at=NOW)
    Loan.objects.update(returned_at=NOW)
    key = f"inventory.problemreport:{report.pk}:text"
    sent = {"nicknames": "Lindy", "shown": [key]}
    page = desk.post(page_of(loan.student, "loans:erase-student"), sent).text
    assert f'value="{key}">' in page
    assert f'value="{key}" checked' not in page


def test_a_paper_that_is_to_be_kept_is_said_to_stay(desk, school, director):
    make_district()
    District.objects.update(keep_papers_years=3)
    loan = make_loan(school=school, actor=director)
    print_agreement(agreement=make_agreement(loan), actor=director, at=NOW)
    Loan.objects.update(returned_at=timezone.now())
    url = page_of(loan.student, "loans:erase-student")
    assert "1 signed paper" in desk.get(url).text
    desk.post(url, {"papers_too": "on"})
    assert not Agreement.objects.get().pdf


def test_a_paper_that_is_to_be_kept_is_made_before_the_names_go(desk, school, director):
    make_district()
    District.objects.update(keep_papers_years=3)
    loan = make_loan(school=school, actor=director)
    make_agreement(loan)
    Loan.objects.update(returned_at=timezone.now())
    assert desk.post(page_of(loan.student, "loans:erase-student")).status_code == 302
    kept = Agreement.objects.get()
    assert kept.pdf
    assert kept.guardian_signer == ""


def test_a_paper_that_cannot_be_made_stops_the_erasing(desk, school, director, monkeypatch):
    def broken(*_paper):
        raise PdfError("no fonts")

    make_district()
    District.objects.update(keep_papers_years=3)
    loan = make_loan(school=school, actor=director)
    make_agreement(loan)
    Loan.objects.update(returned_at=timezone.now())
    monkeypatch.setattr("loans.tasks.agreement_pdf", broken)
    refused = desk.post(page_of(loan.student, "loans:erase-student"))
    assert refused.status_code == 422
    assert "could not be made" in refused.text
    assert Student.objects.get().name


def test_a_nickname_that_stands_nowhere_is_said_to(desk, school):
    page = desk.post(page_of(make_student(school=school), "loans:erase-student"), {"nicknames": "Bo, <Zed>"}).text
    assert "Neither the names alone nor “Bo”, “&lt;Zed&gt;” appear" in page


def test_the_list_costs_the_same_for_one_student_and_for_twenty(desk, school):
    make_student(school=school)
    url = reverse("loans:students")
    desk.get(url)
    with CaptureQueriesContext(connection) as one:
        desk.get(url)
    for _ in range(19):
        make_student(school=school)
    with CaptureQueriesContext(connection) as twenty:
        desk.get(url)
    assert len(twenty) == len(one) <= 12


def test_two_guardians_a_number_and_a_language_are_kept_and_shown(desk):
    second = {"guardian2_name": "Ida", "guardian2_email": "ida@family.example", "guardian2_language": "es"}
    page = desk.post(reverse("loans:add-student"), TYPED | second | {"number": "C-4711"}, follow=True).text
    for shown in ("555-0188", "ida@family.example", "letters in Spanish", "C-4711"):
        assert shown in page
    assert [row.place for row in Student.objects.get().guardians.all()] == [1, 2]


def test_the_list_is_by_family_name_and_found_by_number_and_guardian(desk, school):
    make_student(school=school, name="Zoe Adams", guardian_name="Gale Moss")
    make_student(school=school, name="Ada Zimmer", number="C-4711")
    page = desk.get(reverse("loans:students")).text
    assert page.index("Adams, Zoe") < page.index("Zimmer, Ada")
    for words, found in (("4711", "Zimmer, Ada"), ("moss", "Adams, Zoe"), ("zimmer, a", "Zimmer, Ada")):
        page = desk.post(reverse("loans:students"), {"q": words}, follow=True).text
        assert [name for name in ("Adams, Zoe", "Zimmer, Ada") if name in page] == [found]


def test_staff_are_shown_as_such_without_grade(desk, school):
    page = desk.get(page_of(make_student(school=school, name="Pat Quill", who="staff", grade=""))).text
    assert "a member of staff" in page
    assert "Grade" not in page
