"""The shopping list and the packing slip, read back by a PDF reader and a code reader of their own."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pypdfium2
import pytest
import zxingcpp

from core.photos import clean_photo
from inventory.models import School
from inventory.services.care import keep_photo
from repairs.models import ShopOrder
from repairs.pages.packing_slip import slips_of
from repairs.pdf import packing_slips_pdf, shopping_pdf
from repairs.selectors.stock import shopping_for
from repairs.services.orders import approve_order, call_off, note_estimate
from tests.factories import NOW, TODAY, make_bench, make_director, make_inspection, make_instrument
from tests.pictures import jpeg
from tests.repairs.money_makers import finding_of, make_item, make_order

pytestmark = pytest.mark.django_db


def text_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_bounded() for page in document).split())


def test_the_list_says_what_to_buy_and_what_it_costs_together():
    bench = make_bench(name="Bench in the cage")
    make_item(bench=bench, code="pad", quantity="1", reorder_level=Decimal(30), price_amount=Decimal(2))
    make_item(bench=bench, name="Stop <screw>", reorder_level=Decimal(2))
    text = text_of(shopping_pdf(shopping_for(bench, jobs=5, at=NOW)))
    assert "Bench in the cage" in text
    assert "Stop <screw>" in text
    assert "pad 29 1 $2 $58" in text
    assert "$58" in text
    assert "1 item without a price left out" in text


def test_a_bench_that_lacks_nothing_prints_that():
    assert "Nothing to buy." in text_of(shopping_pdf(shopping_for(make_bench(), jobs=5, at=NOW)))


def test_the_same_list_gives_the_same_bytes():
    shopping = shopping_for(make_bench(), jobs=5, at=NOW)
    assert shopping_pdf(shopping) == shopping_pdf(shopping)


@pytest.fixture
def order():
    instrument = make_instrument(serial='A"1<2')
    make_inspection(instrument=instrument, findings=[("main_tuning_slide", "slide_seized", "moderate")])
    return make_order(
        instrument=instrument, question="Free it.\nNo <b>flame</b>, please.", findings=[finding_of(instrument).pk],
        promised_on=TODAY + timedelta(days=9),
    )  # fmt: skip


def pages_of(*orders):
    return packing_slips_pdf(slips_of(list(orders), home="https://horns.example", today=TODAY))


def test_the_slip_says_what_it_is_what_is_asked_and_what_lies_in_the_case(order):
    text = text_of(pages_of(order))
    for words in (
        order.instrument.asset_number, 'A"1<2', "No <b>flame</b>, please.", "stuck or seized slide", "Mouthpiece".lower(),
        "wanted back by September 23, 2026", f"Call before it costs more than ${order.expected_high_amount:.0f}",
    ):  # fmt: skip
        assert words.lower() in text.lower(), words


def test_the_slip_names_what_was_approved(order):
    note_estimate(order=order, amount=Decimal(210), on=TODAY, actor=order.asked_by, at=NOW)
    approve_order(order=order, amount=Decimal(220), actor=make_director(order.instrument.school), at=NOW)
    order.refresh_from_db()
    text = text_of(pages_of(order))
    assert "Approved up to $220. Call before it costs more." in text


def test_the_slip_of_an_estimate_that_nobody_approved_yet_asks_for_no_work(order):
    note_estimate(order=order, amount=Decimal(900), on=TODAY, actor=order.asked_by, at=NOW)
    order.refresh_from_db()
    text = text_of(pages_of(order))
    assert "Your estimate of $900 is not approved yet: please do no work before we call." in text


def test_the_code_on_the_slip_leads_back_to_the_instrument(order):
    slip = slips_of([order], home="https://horns.example", today=TODAY)[0]
    page = pypdfium2.PdfDocument(packing_slips_pdf([slip]))[0]
    codes = zxingcpp.read_barcodes(page.render(scale=3).to_pil())
    assert [code.text for code in codes] == [slip["tag_url"]]


def test_the_slip_says_where_it_goes_back_whom_to_ask_and_who_pays(order):
    School.objects.filter(pk=order.instrument.school_id).update(
        address="12 Elm Street\nSpringfield", phone="555-201-3344", email="band@elm.example"
    )
    ShopOrder.objects.filter(pk=order.pk).update(purchase_order="PO-77")
    order = ShopOrder.objects.for_table().select_related("asked_by").get(pk=order.pk)
    text = text_of(pages_of(order))
    for words in ("12 Elm Street Springfield", "555-201-3344", "band@elm.example", "PO-77", order.asked_by.name):
        assert words in text, words


def test_one_that_was_canceled_says_so_in_large_letters(order):
    call_off(order=order, because="We do it here", actor=order.asked_by, at=NOW)
    order.refresh_from_db()
    page = pypdfium2.PdfDocument(pages_of(order))[0]
    text = page.get_textpage()
    assert "Please do no work" in text.get_text_bounded()
    _, bottom, _, top = text.get_charbox(text.get_text_range().index("CANCELED"))
    assert top - bottom > 20  # points: larger than the heading


def test_those_asked_together_print_as_one_document_a_page_each(order):
    other = make_order()
    document = pypdfium2.PdfDocument(pages_of(order, other))
    assert len(document) == 2
    first, second = (page.get_textpage().get_text_bounded() for page in document)
    assert "Instrument 1 of 2" in first
    assert other.instrument.asset_number in second
    assert other.instrument.asset_number not in first


def test_photos_of_what_is_wrong_are_printed(order):
    kept = keep_photo(
        instrument=order.instrument, photo=clean_photo(jpeg()), part="main_tuning_slide",
        actor=order.asked_by, at=NOW,
    )  # fmt: skip
    assert kept
    page = pypdfium2.PdfDocument(pages_of(order))[0]
    images = [one for one in page.get_objects() if one.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE]
    assert len(images) == 2  # the tag's code and the photo
