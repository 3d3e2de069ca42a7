"""Printed for a class, photographed, filed: the code alone says which paper is whose."""

from __future__ import annotations

import io
import sys

import pypdfium2
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image
from zeal import zeal_ignore

from core.models import Event, LongWork
from core.views.later import replay_request
from desk.views import papers
from inventory.models import School
from loans.models import Agreement, PaperToSign
from loans.pdf.to_sign import papers_to_sign_pdf
from loans.rules.codes import LETTERS
from tests.factories import NOW, make_ready_instrument, make_school, make_student
from tests.loans.makers import content, ink, make_lending_form, make_loan, make_paper

PRINT, IN = reverse("desk:print-to-sign"), reverse("desk:papers-in")


def photos_of(pdf: bytes) -> list[SimpleUploadedFile]:
    """Each page, turned a little as a hand holds a phone."""
    photos = []
    with pypdfium2.PdfDocument(pdf) as document:
        for number, page in enumerate(document):
            out = io.BytesIO()
            page.render(scale=1.6).to_pil().rotate(4, expand=True, fillcolor="gray").save(out, "JPEG", quality=70)
            photos.append(SimpleUploadedFile(f"photo-{number}.jpg", out.getvalue()))
    return photos


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


def test_signed_after_and_before_the_hand_out(desk, director, school):
    out, waits = make_student(school=school), make_student(school=school)
    loan = make_loan(school=school, student=out, actor=director)
    photos = []
    for student in (out, waits):
        answer = desk.post(f"{PRINT}?student={student.pk}", {"students": [student.pk]})
        assert answer["Content-Type"] == "application/pdf"
        photos += photos_of(answer.content)
    assert [event.after["what"] for event in Event.objects.filter(act="exported")] == ["papers to sign"] * 2
    with zeal_ignore():  # each paper is an act of its own, under a lock of its own
        page = desk.post(IN, {"scans": photos}, follow=True).text
    assert "1 loan is signed for." in page
    assert "1 paper is kept until its student borrows." in page
    assert Agreement.objects.get().loan == loan

    instrument = make_ready_instrument(school=school)
    typed = make_lending_form(waits, signed="later", student_signature="", guardian_signature="", guardian_signer="")
    answer = desk.post(reverse("desk:lend-this", args=[instrument.asset_number]), typed, follow=True)
    assert "The agreement is signed and filed." in answer.text
    assert Agreement.objects.filter(loan__student=waits, signed="paper").exists()
    assert not PaperToSign.objects.open().exists()


def test_a_stack_through_the_copier_is_filed_paper_by_paper(desk, director, school):
    """Both sides of each sheet, on which the code is on the first alone; before them a sheet without one, last a foreign one."""
    students = [make_student(school=school) for _ in range(3)]
    loans = [make_loan(school=school, student=one, actor=director) for one in students[:2]]
    papers = [make_paper(student=one, actor=director) for one in (*students, make_student(school=make_school()))]
    back = Image.new("L", (850, 1100), 240)
    pages = [back]
    for paper in papers:
        with pypdfium2.PdfDocument(papers_to_sign_pdf([paper], home="https://horns.example/")) as document:
            pages += [document[0].render(scale=1.4, grayscale=True).to_pil(), back]
    out = io.BytesIO()
    pages[0].save(out, "PDF", save_all=True, append_images=pages[1:], resolution=100)
    with zeal_ignore():  # each paper is an act of its own, under a lock of its own
        sent = SimpleUploadedFile("stack.pdf", out.getvalue(), "application/pdf")
        page = desk.post(IN, {"scans": sent}, follow=True).text
    assert "2 loans are signed for." in page
    assert "1 paper is kept until its student borrows." in page
    assert "stack.pdf, page 1: No code could be read." in page
    assert "stack.pdf, pages 8 to 9: No paper from your schools has this code." in page
    for loan in loans:
        with pypdfium2.PdfDocument(content(Agreement.objects.get(loan=loan).scan)) as document:
            assert len(document) == 2


def test_a_code_is_typed_where_none_can_be_read(desk, director, school):
    paper = make_paper(student=make_student(school=school), actor=director)
    photo = SimpleUploadedFile("photo.png", ink())
    assert "No code could be read." in desk.post(IN, {"scans": photo}, follow=True).text
    photo.seek(0)
    desk.post(IN, {"scans": photo, "code": paper.shown_code.lower()})
    paper.refresh_from_db()
    assert paper.scan_sha256


def test_a_foreign_unknown_or_mistyped_code_is_refused_in_words(desk, school):
    foreign = make_paper(student=make_student(school=make_school()))
    for code, words in (
        (foreign.code, "No paper from your schools has this code."),
        (LETTERS[1] * 7 + LETTERS[28], "No paper from your schools has this code."),
        ("ABCD-2345", "a character is wrong"),
    ):
        answer = desk.post(IN, {"scans": SimpleUploadedFile("photo.png", ink()), "code": code}, follow=True)
        assert words in answer.text
    assert not PaperToSign.objects.exclude(scan="").exists()
    assert desk.get(reverse("desk:paper", args=[foreign.code])).status_code == 404


def test_a_worker_killed_after_it_issued_papers_issues_none_again(desk, director, school, monkeypatch):
    """Each paper and each export once, whatever happens to the worker. Common practice, no source."""
    monkeypatch.setattr(papers, "MOST_AT_ONCE", 0)
    student = make_student(school=school)
    desk.post(f"{PRINT}?student={student.pk}", {"students": [student.pk]})
    row = LongWork.objects.get()
    with monkeypatch.context() as killed:
        killed.setattr(papers, "papers_to_sign_pdf", lambda *_, **__: sys.exit())
        with pytest.raises(SystemExit):
            replay_request(row, NOW)
    School.objects.update(phone="555 0199")  # a new paper would say something else
    for _ in range(2):
        replay_request(row, NOW).file.close()
    assert (PaperToSign.objects.count(), Event.objects.filter(act="exported").count()) == (1, 1)


def test_the_code_leads_to_the_paper_and_says_where_it_is(desk, director, school):
    paper = make_paper(student=make_student(school=school), actor=director)
    page = desk.get(reverse("desk:find"), {"text": paper.shown_code}, follow=True).text
    assert "It has not come back yet." in page
    assert paper.shown_code in page


def test_an_instrument_that_nobody_has_is_said_at_its_field(desk, school):
    student = make_student(school=school)
    answer = desk.post(f"{PRINT}?student={student.pk}", {"students": [student.pk], "number": "NONE-1"})
    assert answer.status_code == 422
    assert "No instrument of your schools has this number." in answer.text
    assert not PaperToSign.objects.exists()
