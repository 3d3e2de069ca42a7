"""The paper says what it must, and fetches nothing. Read back by a PDF reader that shares nothing with the writer."""

from __future__ import annotations

import re
from typing import Any

import pypdfium2
import pytest

from core.money import dollars
from core.pdf import LaidOut, PdfFetchRefusedError
from inventory.catalog.load import catalog
from inventory.models import Instrument
from loans.pdf import agreement_pdf, agreements
from loans.selectors.agreements import default_terms, paper_facts
from loans.selectors.families import LANGUAGES
from tests.factories import make_ready_instrument, make_student
from tests.loans.makers import NAMES, make_agreement, make_loan, unsaved_agreement

SIGNS = [["bell_bow", "looks"], ["third_valve_slide", "limits"]]
WALK = [part.code for part in catalog().kind("trumpet").parts]
NUMBERS = [str(WALK.index(part) + 1) for part, _ in SIGNS]


def paper(**changed: Any) -> bytes:
    agreement = unsaved_agreement(**changed)
    return agreement_pdf(agreement, paper_facts(agreement))


def opened(pdf: bytes) -> pypdfium2.PdfDocument:
    return pypdfium2.PdfDocument(pdf)


def words(pdf: bytes) -> str:
    document = opened(pdf)
    text = " ".join(page.get_textpage().get_text_bounded() for page in document)
    document.close()
    return re.sub(r"\s+", " ", text)


def pictures(pdf: bytes) -> int:
    document = opened(pdf)
    count = sum(1 for page in document for thing in page.get_objects() if thing.type == 3)  # an image
    document.close()
    return count


@pytest.fixture(scope="module")
def text() -> str:
    return words(paper())


@pytest.mark.parametrize(
    "said",
    [
        "TD-0042",
        "Trumpet",
        "123456",
        "Plain Brass Works, Student",
        "$1,250",
        "May 28, 2027",
        "Robin Reed",
        "Gale Reed",
        "Plays with limits",
        "Bell bow and bell stem: dent or ding, light",
        "Third valve slide: stuck or seized slide, moderate",
        "Low D is 30 cents sharp.",
        "Plays the upper part.",
        "1 × mouthpiece",
        "2 × valve oil",
        "Photos kept with the inspection: 2.",
        "version 3",
        "No repairs at home.",
        "September 14, 2026, by Dana Director",
        "Signed on screen on September 14, 2026",
        "not legal advice",
    ],
)
def test_the_paper_says(text, said):
    assert said in text


def test_the_terms_stand_in_it_word_for_word(text):
    plain = re.sub(r"\s+", "", text)
    for paragraph in default_terms().split("\n\n"):
        assert re.sub(r"\s+", "", paragraph) in plain


def test_both_signatures_are_in_it_as_pictures():
    assert pictures(paper()) == 2


def test_a_paper_signed_by_hand_has_no_picture_and_says_so():
    pdf = paper(signed="paper", student_signature="", guardian_signature="")
    assert pictures(pdf) == 0
    assert "Signed on paper" in words(pdf)


def pages_and_signs(pdf: bytes) -> tuple[int, list[str]]:
    """How many pages it has, and the numbers on them that stand alone: in the signs of the picture and at the findings."""
    document = opened(pdf)
    lines = "\n".join(page.get_textpage().get_text_bounded() for page in document).split()
    pages = len(document)
    document.close()
    return pages, [line for line in lines if line in NUMBERS]


@pytest.mark.parametrize("language", LANGUAGES)
def test_an_ordinary_paper_is_one_page_with_the_picture_of_its_findings(language):
    pages, numbers = pages_and_signs(paper(language=language, text=default_terms(language), signs=SIGNS))
    assert (pages, sorted(numbers)) == (1, sorted(NUMBERS * 2))


def test_a_paper_for_whose_picture_one_page_has_no_room_takes_a_second_and_is_laid_out_once_per_size(monkeypatch):
    laid_out = []
    monkeypatch.setattr(agreements, "LaidOut", lambda **given: laid_out.append(LaidOut(**given)) or laid_out[-1])
    text = "\n\n".join([default_terms(), *["One more line of the terms."] * 20])
    pages, numbers = pages_and_signs(paper(text=text, signs=SIGNS))
    assert (pages, sorted(numbers)) == (2, sorted(NUMBERS * 2))
    assert [one.pages for one in laid_out] == [2] * len(agreements.PICTURE_SIZES)


def test_a_paper_without_findings_has_no_drawing(school, director):
    signed = make_agreement(make_loan(school=school, actor=director))
    document = opened(agreement_pdf(signed, paper_facts(signed)))
    drawn = [thing.type for page in document for thing in page.get_objects() if thing.type not in {1, 2, 3}]
    document.close()
    assert drawn == []  # text, lines and the two signatures


def test_the_school_can_be_called_and_each_paragraph_leads_in_bold(text):
    assert "Questions? Elm Street Middle, Dana Director, 555-0100" in text


def test_in_spanish_the_paper_speaks_spanish():
    spanish = words(paper(language="es", text=default_terms("es")))
    for said in (
        "Acuerdo de préstamo de instrumento",
        "Trompeta",
        "28 de mayo de 2027",
        "2 × aceite para pistones",
        "Toca con límites",
        "Nada de reparaciones en casa.",
        "Firmado en pantalla el 14 de septiembre de 2026 a las 10:04.",
        "Persona responsable: Gale Reed",
    ):
        assert said in spanish


def test_names_and_terms_are_text_and_never_markup():
    odd = paper(
        student='<img src="http://127.0.0.1:9/x.png"> O\'Neil & "Sons"',
        text='<style>@import "http://127.0.0.1:9/y.css";</style> {{ settings.SECRET_KEY }}',
    )
    text = words(odd)
    assert '<img src="http://127.0.0.1:9/x.png"> O\'Neil & "Sons"' in text
    assert "{{ settings.SECRET_KEY }}" in text


def test_ten_thousand_characters_without_a_space_still_make_a_paper():
    assert "x" * 40 in words(paper(text="x" * 10_000))


def test_turned_text_and_other_scripts_make_a_paper():
    assert "Robin" in words(paper(student="Robin \u202eesrever \u05d0\u05d1 \u0416"))


def test_the_same_paper_gives_the_same_bytes():
    assert paper() == paper()


def test_a_template_that_asks_for_more_than_it_was_handed_is_refused(monkeypatch):
    """The renderer is closed: were an address ever to slip into the page, no paper would come out."""
    monkeypatch.setattr("loans.pdf.agreements.SCHEME", "http://127.0.0.1:9/")
    with pytest.raises(PdfFetchRefusedError):
        paper()


def test_an_instrument_without_a_serial_says_none():
    assert "none" in words(paper(serial="", maker="", model=""))


def test_the_paper_is_read_from_the_loan_as_it_stood(school, director):
    instrument = make_ready_instrument(school=school, serial="77001")
    student = make_student(school=school, guardian_contact="555-0199")
    signed = make_agreement(make_loan(instrument=instrument, student=student, actor=director))
    Instrument.objects.filter(pk=instrument.pk).update(replacement_amount=1)
    pdf = agreement_pdf(signed, paper_facts(signed))
    text = words(pdf)
    for said in ("77001", student.name, school.name, "mouthpiece", dollars(signed.loan.replacement_amount)):
        assert said in text
    assert "555-0199" not in text  # the guardian's contact is on no paper
    assert pictures(pdf) == 2


def test_the_paper_of_an_adult_has_neither_grade_nor_guardian():
    names = NAMES | {"who": "staff", "grade": "", "guardian": ""}
    text = words(paper(names=names, guardian_signature="", guardian_signer=""))
    assert "Borrower: Robin Reed" in text
    assert "Grade" not in text
    assert "Guardian:" not in text
