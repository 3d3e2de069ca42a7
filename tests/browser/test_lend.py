"""Lend on a phone: counted as a person would, a tap a second, a typed character 0.3 s, plus the measured waits."""

from __future__ import annotations

import time
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Instrument
from loans.models import Agreement, Loan
from tests.factories import make_inspection, make_instrument, make_student

MOST_SECONDS = 45
TAP, CHARACTER, SIGNATURE = 1.0, 0.3, 4.0  # seconds; a signature is a guess of ours, no source


class Counted:
    """A page whose taps, characters and waits are added up."""

    def __init__(self, page):
        self.page = page
        self.seconds = 0.0

    def tap(self, target):
        target.click()
        self.seconds += TAP

    def type(self, text):
        self.page.keyboard.type(text)
        self.seconds += CHARACTER * len(text)

    def sign(self, field):
        pad = self.page.locator(f'canvas[data-for="{field}"]')
        pad.scroll_into_view_if_needed()
        box = pad.bounding_box()
        mouse = self.page.mouse
        mouse.move(box["x"] + 30, box["y"] + 90)
        mouse.down()
        for step in range(24):
            mouse.move(box["x"] + 30 + 9 * step, box["y"] + 60 + 50 * (step % 2))
        mouse.up()
        self.seconds += SIGNATURE

    def wait(self, act, address):
        begin = time.monotonic()
        act()
        self.page.wait_for_url(address)
        self.page.wait_for_load_state("networkidle")
        self.seconds += time.monotonic() - begin


@pytest.fixture
def school_of_twenty(transactional_db, school):
    """A ready trumpet, and students to choose from."""
    yesterday = timezone.now() - timedelta(days=1)
    horn = make_instrument(school=school, at=yesterday)
    make_inspection(instrument=horn, at=yesterday)
    for number in range(19):
        make_student(school=school, name=f"Player {number:02d}")
    make_student(school=school, name="Robin Reed", guardian_name="Gale Reed")
    return horn


def test_a_ready_horn_is_lent_in_under_forty_five_seconds(school_of_twenty, director, open_page):
    horn = school_of_twenty
    page = open_page(user=director)
    page.goto(reverse("desk:instrument", args=[horn.asset_number]))
    desk = Counted(page)
    desk.wait(lambda: desk.tap(page.get_by_role("link", name="Lend", exact=True).last), "**/lend/**")
    desk.tap(page.get_by_role("combobox", name="Student"))
    desk.type("rob")
    desk.tap(page.get_by_role("option", name="Robin Reed"))
    desk.tap(page.get_by_label("All here"))
    desk.sign("id_student_signature")
    desk.sign("id_guardian_signature")
    desk.wait(lambda: desk.tap(page.get_by_role("button", name="Lend it")), "**/loans/*/")
    loan = Loan.objects.get()
    assert loan.student.name == "Robin Reed"
    agreement = Agreement.objects.get()
    assert (agreement.guardian_signer, len(agreement.pdf_sha256)) == ("Gale Reed", 64)
    assert desk.seconds < MOST_SECONDS, desk.seconds


def test_a_refused_form_shows_the_signature_again(school_of_twenty, director, open_page):
    page = open_page(user=director)
    page.goto(reverse("desk:lend-this", args=[school_of_twenty.asset_number]))
    Counted(page).sign("id_student_signature")
    drawn = page.locator("#id_student_signature").input_value()
    page.get_by_role("button", name="Lend it").click()
    page.get_by_text("The guardian has not signed yet.").wait_for()
    assert page.locator("#id_student_signature").input_value() == drawn
    page.wait_for_function(
        """() => { const c = document.querySelector('canvas[data-for="id_student_signature"]');
        return c.getContext('2d').getImageData(0, 0, c.width, c.height).data.some((v, i) => i % 4 === 3 && v > 0); }"""
    )


def test_without_script_a_signed_paper_is_enough(school_of_twenty, director, open_page, tmp_path):
    paper = tmp_path / "paper.pdf"
    paper.write_bytes(b"%PDF-1.7\nsigned\n%%EOF\n")
    page = open_page(user=director, java_script_enabled=False)
    page.goto(reverse("desk:lend-this", args=[school_of_twenty.asset_number]))
    page.get_by_label("Student", exact=True).select_option(label="Robin Reed, grade 6")
    page.get_by_label("All here").check()
    page.get_by_label("Paper signed").check()
    page.get_by_label("Scan or photo of the signed paper").set_input_files(paper)
    page.get_by_role("button", name="Lend it").click()
    page.wait_for_url("**/loans/*/")
    assert Agreement.objects.get().scan
    assert Instrument.objects.get(pk=school_of_twenty.pk).whereabouts == "with_student"
