"""What goes into the case."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.db.models import prefetch_related_objects
from django.test.utils import CaptureQueriesContext

from inventory.models import Photo
from inventory.services.inspecting import count_accessories
from repairs.models import ShopOrder
from repairs.pages.packing_slip import MOST_PHOTOS, slips_of
from repairs.pages.shops import work_name
from tests.factories import NOW, TODAY, make_inspection, make_instrument
from tests.repairs.money_makers import finding_of, make_order, make_stuck_instrument

pytestmark = pytest.mark.django_db
HOME = "https://horns.example"


def test_a_slip_lists_what_lies_in_the_case_not_what_was_missing():
    instrument = make_stuck_instrument()
    order = make_order(instrument=instrument, findings=[finding_of(instrument).pk])
    rows = list(instrument.accessories.all())
    counts = {row.code: row.expected for row in rows} | {rows[0].code: 0}
    count_accessories(instrument=instrument, counts=counts, actor=order.asked_by, at=NOW)
    slip = slips_of([order], home="https://horns.example", today=TODAY)[0]
    names = [name for name, _ in slip["accessories"]]
    assert rows[0].name not in names
    assert rows[1].name in names
    assert len(slip["found"]) == 1


def test_it_marks_and_shows_what_the_order_is_about_and_nothing_else():
    instrument = make_instrument()
    findings = [("bell", "bell_bent", "moderate"), ("main_tuning_slide", "slide_seized", "moderate")]
    make_inspection(instrument=instrument, findings=findings)
    bell = instrument.findings.get(part="bell")
    order = make_order(instrument=instrument, findings=[bell.pk], question="Please look at it.")
    for number, part in enumerate(["bell"] * (MOST_PHOTOS + 2) + ["main_tuning_slide", ""]):
        Photo.objects.create(
            instrument=instrument, part=part, sha256=f"{number:064}", image="a.jpg", small="a.jpg", width=4, height=3,
            taken_at=NOW + timedelta(minutes=number), actor=order.asked_by,
        )  # fmt: skip
    slip = slips_of([order], home=HOME, today=TODAY)[0]
    assert list(slip["marks"]) == ["bell"]
    assert [photo.part for photo in slip["photos"]] == ["bell"] * MOST_PHOTOS
    bell_number = [part.code for part in instrument.kind.parts].index("bell") + 1
    assert [(line.number, line.words) for line in slip["found"]] == [
        (bell_number, "Bell flare and rim, folded or bent bell")
    ]
    assert slip["findings"] == []


def test_however_many_print_together_their_rows_are_read_once(django_assert_num_queries):
    orders = []
    for _ in range(3):
        instrument = make_stuck_instrument()
        orders.append(make_order(instrument=instrument, findings=[finding_of(instrument).pk], question="Look at it."))
    orders = list(ShopOrder.objects.filter(pk__in=[one.pk for one in orders]).for_table().order_by("pk"))
    prefetch_related_objects(orders, "instrument__accessories")
    with CaptureQueriesContext(connection) as one:
        slips_of(orders[:1], home=HOME, today=TODAY)
    with django_assert_num_queries(len(one)):
        slips = slips_of(orders, home=HOME, today=TODAY)
    assert all(slip["found"] for slip in slips)


def test_several_are_numbered_and_say_what_each_may_cost():
    orders = [make_order(expected_high_amount=Decimal(high)) for high in (40, 900)]
    slips = slips_of(orders, home=HOME, today=TODAY)
    assert [(slip["number"], slip["count"]) for slip in slips] == [(1, 2), (2, 2)]
    assert slips[0]["allowed"] == 40
    assert slips[1]["allowed"] <= 150  # the limit: above it somebody has to approve


def test_the_work_is_not_named_twice_where_the_question_begins_with_it():
    instrument = make_stuck_instrument()
    order = make_order(instrument=instrument, findings=[finding_of(instrument).pk])
    name = work_name(order.work)
    for question, said in ((f"{name}: third valve slide.", ""), ("Please look at it.", name)):
        order.question = question
        assert slips_of([order], home=HOME, today=TODAY)[0]["work"] == said
