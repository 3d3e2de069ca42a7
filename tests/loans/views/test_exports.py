"""Lists and copies leave as files, each an entry of the log; what was searched for does not."""

from __future__ import annotations

import pypdfium2
import pytest
from django.urls import reverse

from core.models import Event
from core.pdf import PdfError
from core.views import base
from loans.views import exports
from tests.factories import make_school, make_student
from tests.loans.makers import make_loan

pytestmark = pytest.mark.django_db
LOANS, STUDENTS = reverse("loans:export-loans"), reverse("loans:export-students")


def text_of(answer):
    body = answer.getvalue() if answer.streaming else answer.content
    if answer["Content-Type"] == "application/pdf":
        return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(body))
    return body.decode("utf-8-sig")


@pytest.mark.parametrize("form", ["csv", "pdf"])
def test_the_loans_leave_as_they_are_filtered(client, director, school, form):
    loan = make_loan(
        school=school, student=make_student(school=school, name="=Robin Reed", sort_name="=Reed, Robin"), actor=director
    )
    other = make_loan(school=school, actor=director)
    theirs = make_loan(school=make_school())
    client.force_login(director)
    key = client.post(reverse("loans:list"), {"q": "robin"}).url.partition("search=")[2]
    page = client.get(f"{reverse('loans:list')}?search={key}").text
    assert f'name="search" value="{key}"' in page
    answer = client.post(LOANS, {"form": form, "search": key})
    text = text_of(answer)
    assert loan.instrument.asset_number in text
    assert other.instrument.asset_number not in text
    assert theirs.instrument.asset_number not in text
    assert ("'=Reed" in text) == (form == "csv")
    assert "robin" not in str(answer.headers).lower()
    event = Event.objects.get(act="exported")
    assert (event.actor, event.tenant) == (director, school.pk)
    assert event.after == {"what": "loans", "form": form, "rows": 1}


@pytest.mark.parametrize("who", ["auditor", "administrator"])
def test_names_are_in_it_for_those_alone_who_see_them(client, request, school, who):
    make_loan(school=school, student=make_student(school=school, name="Robin Reed"))
    make_loan(school=school, student=make_student(school=school, name="Ada Berg", is_private=True))
    client.force_login(request.getfixturevalue(who))
    text = text_of(client.post(LOANS, {"form": "csv"}))
    assert ("Reed, Robin" in text) == (who == "auditor")
    assert "Berg" not in text, "opted out, and neither of them lends"


def test_the_log_names_the_one_school_that_a_list_was_narrowed_to(client, auditor, school):
    make_school()
    client.force_login(auditor)
    for page in (LOANS, reverse("loans:export-ledger")):
        for asked in ({}, {"school": school.pk}):
            client.post(page, {"form": "csv"} | asked)
    told = Event.objects.filter(act="exported").order_by("number").values_list("tenant", flat=True)
    assert list(told) == [None, school.pk] * 2


@pytest.mark.parametrize("form", ["csv", "pdf"])
def test_the_students_leave_without_contacts(client, director, school, form):
    make_student(school=school, name="Robin Reed", guardian_contact="555-0177")
    make_student(school=make_school(), name="Ada Berg")
    client.force_login(director)
    text = text_of(client.post(STUDENTS, {"form": form}))
    assert "Reed, Robin" in text
    assert "Ada" not in text
    assert "555-0177" not in text
    assert Event.objects.get(act="exported").after == {"what": "students", "form": form, "rows": 1}


def test_what_does_not_leave_is_no_entry(client, director, school, monkeypatch):
    make_student(school=school)
    make_student(school=school)
    client.force_login(director)
    assert client.post(STUDENTS, {"form": "exe"}).url == reverse("loans:students")
    assert client.get(STUDENTS).status_code in {302, 405}
    monkeypatch.setattr(base, "MOST_PRINTED", 1)
    assert "too many to print" in client.post(STUDENTS, {"form": "pdf"}, follow=True).text
    monkeypatch.setattr(base, "MOST_PRINTED", 2)

    def fails(**_given):
        raise PdfError("no")

    monkeypatch.setattr(base, "sheet_response", fails)
    assert "could not be laid out" in client.post(STUDENTS, {"form": "pdf"}, follow=True).text
    assert not Event.objects.filter(act="exported").exists()


def test_a_guardians_copy_is_made_and_noted(client, director, auditor, school, monkeypatch):
    student = make_student(school=school, name="Robin Reed", guardian_contact="555-0177")
    url = reverse("loans:student-copy", args=[student.pk])
    client.force_login(director)
    assert url in client.get(reverse("loans:student", args=[student.pk])).text
    answer = client.post(url)
    assert "555-0177" in text_of(answer)
    assert f"student-{student.pk}-copy.pdf" in answer["Content-Disposition"]
    event = Event.objects.get(act="copy_made")
    assert (event.actor, event.subject_id, event.tenant, event.after) == (director, str(student.pk), school.pk, {})

    def fails(**_given):
        raise PdfError("no")

    monkeypatch.setattr(exports, "copy_pdf", fails)
    assert "could not be laid out" in client.post(url, follow=True).text
    assert Event.objects.filter(act="copy_made").count() == 1
    client.force_login(auditor)
    assert client.post(url).status_code == 403


def test_the_cost_of_a_file_does_not_grow_with_its_rows(client, director, school, django_assert_max_num_queries):
    client.force_login(director)
    for _ in range(8):
        make_loan(school=school, actor=director)
    with django_assert_max_num_queries(26):
        text_of(client.post(LOANS, {"form": "csv"}))
    with django_assert_max_num_queries(26):
        text_of(client.post(STUDENTS, {"form": "csv"}))
