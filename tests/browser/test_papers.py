"""A class's agreements on paper, counted as a person would: a tap a second, a typed character 0.3 s."""

from __future__ import annotations

import io

import pypdfium2
import pytest
from django.core.management import call_command
from django.urls import reverse

from loans.models import Agreement
from tests.factories import make_ready_instrument, make_student
from tests.loans.makers import make_loan, make_period, make_seat

CLASS = 24  # students; common practice, no source
MOST_SECONDS = 8.0  # of a person, for the whole class; what we aim at, no source
# Each paper is an act of its own, under a lock of its own.
ONE_BY_ONE = [{"model": model, "field": "get*"} for model in ("loans.Loan", "loans.PaperToSign")]
MOST_WAIT_MS = 120_000  # of a busy machine


def copied(pdf: bytes) -> bytes:
    """Return what a copier makes of the stack: gray pictures of its pages, no text."""
    out = io.BytesIO()
    with pypdfium2.PdfDocument(pdf) as document:
        pages = [page.render(scale=1.4, grayscale=True).to_pil() for page in document]
    pages[0].save(out, "PDF", save_all=True, append_images=pages[1:], resolution=100)
    return out.getvalue()


@pytest.mark.counted
@pytest.mark.django_db(transaction=True)
def test_the_papers_of_a_class_are_printed_and_filed_again(school, director, open_page, counted_hand, settings):
    """From the page of the class to 24 signed loans: the stack through the copier is one file."""
    settings.ZEAL_ALLOWLIST = [*settings.ZEAL_ALLOWLIST, *ONE_BY_ONE]
    period = make_period(school=school)
    for _ in range(CLASS):
        student = make_student(school=school)
        make_seat(student=student, place=period, kind_code="trumpet")
        make_loan(instrument=make_ready_instrument(school=school), student=student, actor=director)
    page = open_page(user=director)
    page.context.set_default_timeout(MOST_WAIT_MS)
    page.goto(reverse("loans:period", args=[period.pk]))
    hand = counted_hand(page)
    hand.go(page.get_by_role("link", name="Print agreements to sign"))
    hand.go("Make the PDF")
    hand.wait(lambda: call_command("work", once=True, stdout=io.StringIO()))
    with page.expect_download() as taken:
        hand.tap(page.locator("main").get_by_role("link", name="Download"))
    stack = taken.value.path().read_bytes()
    page.goto(reverse("loans:list"))
    hand.go(page.get_by_role("link", name="Signed papers"))
    with page.expect_file_chooser() as chooser:
        hand.tap(page.get_by_label("Photos or scans of signed papers"))
    chooser.value.set_files({"name": "stack.pdf", "mimeType": "application/pdf", "buffer": copied(stack)})
    hand.taps.append("the file")
    hand.go("Add them")
    hand.wait(page.get_by_text(f"{CLASS} loans are signed for.").wait_for)
    assert Agreement.objects.filter(signed="paper", loan__student__seats__period=period).count() == CLASS
    assert hand.counted_seconds < MOST_SECONDS, hand
