"""The shopping list and the packing slip, read back by a PDF reader and a code reader of their own."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pypdfium2
import pytest
import zxingcpp

from repairs.pages.orders import slip_of
from repairs.pdf import packing_slip_pdf, shopping_pdf
from repairs.selectors.stock import shopping_for
from repairs.services.orders import approve_order
from tests.factories import NOW, TODAY, make_bench, make_director, make_inspection, make_instrument
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


def test_the_slip_says_what_it_is_what_is_asked_and_what_lies_in_the_case(order):
    text = text_of(packing_slip_pdf(slip_of(order, home="https://horns.example", today=TODAY)))
    for words in (
        order.instrument.asset_number, 'A"1<2', "No <b>flame</b>, please.", "stuck or seized slide", "Mouthpiece".lower(),
        "wanted back by September 23, 2026", "Please call with an estimate",
    ):  # fmt: skip
        assert words.lower() in text.lower(), words


def test_the_slip_names_what_was_approved(order):
    approve_order(order=order, amount=Decimal(220), actor=make_director(order.instrument.school), at=NOW)
    order.refresh_from_db()
    text = text_of(packing_slip_pdf(slip_of(order, home="https://horns.example", today=TODAY)))
    assert "Approved up to $220. Call before it costs more." in text


def test_the_code_on_the_slip_leads_back_to_the_instrument(order):
    slip = slip_of(order, home="https://horns.example", today=TODAY)
    page = pypdfium2.PdfDocument(packing_slip_pdf(slip))[0]
    codes = zxingcpp.read_barcodes(page.render(scale=3).to_pil())
    assert [code.text for code in codes] == [slip["tag_url"]]
