"""A list printed from the browser: US Letter across, its heading on every sheet, what it holds said, nothing cut."""

from __future__ import annotations

import pypdfium2
import pytest
from django.urls import reverse
from django.utils import formats, timezone

from core.photos import clean_photo
from desk.pages.instrument_page import LONG
from inventory.catalog.load import catalog
from inventory.services.care import keep_photo
from tests.factories import NOW, make_inspection, make_instrument
from tests.pictures import jpeg
from tests.plugins.browser import DESK
from tests.repairs.makers import make_job, read_cautions

ROWS = 50  # a page of the list
MOST_SHEETS = 2  # for so many rows; a figure of the house's own
LETTER_ACROSS = (792, 612)  # points; 11 by 8.5 inches
HEADINGS = ("Number", "Kind", "Maker", "Serial", "Where", "Verdict", "May go out", "Last seen")


@pytest.mark.django_db(transaction=True)
def test_fifty_rows_of_the_register_print_on_two_sheets(open_page, director, school):
    for number in range(ROWS):
        make_instrument(school=school, asset_number=f"TV-{number:04}", maker="Brassard Lane Concert")
    page = open_page(user=director)
    page.goto(reverse("inventory:list") + "?q=TV-")
    with pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True)) as pdf:
        sizes = {sheet.get_size() for sheet in pdf}
        sheets = [" ".join(sheet.get_textpage().get_text_bounded().split()) for sheet in pdf]
    assert sizes == {LETTER_ACROSS}
    assert len(sheets) <= MOST_SHEETS
    today = formats.date_format(timezone.localdate())
    assert f"Hornbook · {today} · {school.name} · director" in sheets[0]
    assert "TV-" in sheets[0].partition("Number")[0]  # the words searched for
    for number, sheet in enumerate(sheets, start=1):
        assert [heading for heading in HEADINGS if heading not in sheet] == []
        assert f"{number} / {len(sheets)}" in sheet
    whole = " ".join(sheets)
    assert [number for number in range(ROWS) if f"TV-{number:04}" not in whole] == []
    assert "Skip to the page" not in whole


@pytest.mark.django_db(transaction=True)
def test_a_job_prints_what_one_reads_and_nothing_to_fill_in_or_press(open_page, tech, school):
    job = make_job(school=school, actor=tech)
    read_cautions(job, actor=tech, at=NOW)
    page = open_page(user=tech)
    page.goto(reverse("repairs:job", args=[job.pk]))
    page.emulate_media(media="print")
    controls = "main :is(input, select, textarea, button, label)"
    seen = page.locator(controls).evaluate_all(
        "all => all.filter(one => one.checkVisibility()).map(one => one.outerHTML)"
    )
    assert page.locator("main textarea").count() > 0, "there is something to hide"
    assert seen == []
    assert page.get_by_role("heading", level=1).is_visible()
    assert page.get_by_text("The job in all").is_visible()


@pytest.mark.django_db(transaction=True)
def test_a_photo_in_a_fold_that_is_closed_is_on_the_paper(open_page, tech, school):
    instrument = make_instrument(school=school)
    keep_photo(instrument=instrument, photo=clean_photo(jpeg()), actor=tech, at=NOW)
    dents = [(part.code, "dent_small", "light") for part in instrument.parts]
    fitting = [dent for dent in dents if "dent_small" in catalog().faults_at(instrument.kind.part(dent[0]))]
    make_inspection(instrument=instrument, findings=fitting[: LONG + 1], actor=tech)
    page = open_page(user=tech, viewport=DESK)
    page.goto(reverse("desk:instrument", args=[instrument.asset_number]))
    assert page.locator("details:not([open]) .photos img").count() == 1
    page.wait_for_load_state("networkidle")
    with pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True)) as pdf:
        images = [one for sheet in pdf for one in sheet.get_objects() if one.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE]
    assert len(images) == 1
