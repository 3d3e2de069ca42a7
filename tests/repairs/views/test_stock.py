"""Pages of stock and shopping."""

from __future__ import annotations

import csv
import io
from collections import Counter
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import Role, StaffRole
from repairs.models import StockItem, StockMove
from repairs.rules.bounds import LARGEST_MOVE, MOST, MOST_EACH, MOST_ON_RECORD, MOST_PAID
from repairs.selectors.stock import known_codes
from repairs.services.stock import receive_stock
from tests.factories import NOW, make_bench, make_school, make_user, new_nonce
from tests.repairs.makers import LEAKING_CORK, work_to_the_proof
from tests.repairs.makers import make_job as make_full_job
from tests.repairs.money_makers import make_item


@pytest.fixture
def bench(school):
    return make_bench(school=school, code="elm-bench")


def at(name, *args):
    return reverse(f"repairs:{name}", args=args)


def test_one_bench_is_shown_at_once_and_several_are_listed(desk, school, bench):
    assert desk.get(at("stock")).headers["Location"] == at("bench-stock", "elm-bench")
    make_item(bench=make_bench(school=school, name="Second"), reorder_level=Decimal(2))
    page = desk.get(at("stock")).text
    assert "Second" in page
    assert "1 item low" in page


def test_the_list_shows_what_is_low_first_and_nothing_of_other_schools(desk, bench):
    make_item(bench=bench, code="slide_grease", quantity="5", reorder_level=Decimal(1))
    make_item(bench=bench, code="valve_oil", quantity="1", reorder_level=Decimal(4))
    make_item(bench=make_bench(school=make_school()), name="Their own screw")
    page = desk.get(at("bench-stock", "elm-bench")).text
    assert page.index("Valve oil") < page.index("Slide grease")
    assert "Below 4 bottles." in page
    assert "Their own screw" not in page
    assert "?file=pdf" in page
    table = desk.get(at("bench-stock", "elm-bench") + "?file=csv").getvalue().decode("utf-8-sig")
    rows = [(row["Item"], row["On hand"], row["Keep at least"]) for row in csv.DictReader(io.StringIO(table))]
    assert [(thing, Decimal(much), Decimal(least)) for thing, much, least in rows] == [
        ("Valve oil", 1, 4),
        ("Slide grease", 5, 1),
    ]


def test_something_is_put_on_the_list_counted_and_received(desk, bench):
    desk.post(at("add-stock", "elm-bench"), {"code": "valve_oil", "reorder_level": "2"})
    item = StockItem.objects.get()
    desk.post(at("stock-count", item.pk), {"quantity": "1.5", "nonce": new_nonce()})
    desk.post(at("stock-receive", item.pk), {"quantity": "2", "amount": "11", "nonce": new_nonce()})
    item.refresh_from_db()
    assert (item.quantity, item.price_amount) == (Decimal("3.5"), Decimal("5.5"))
    page = desk.get(at("stock-item", item.pk)).text
    assert "Received 2 bottles" in page
    assert "3.5 bottles on record after" in " ".join(page.split())


def test_a_form_sent_twice_counts_once(desk, bench):
    item, form = make_item(bench=bench), {"quantity": "2", "nonce": new_nonce()}
    for _ in range(2):
        desk.post(at("stock-receive", item.pk), form)
    assert StockMove.objects.count() == 1


def test_both_a_thing_of_the_list_and_a_name_is_asked_again(desk, bench):
    answer = desk.post(at("add-stock", "elm-bench"), {"code": "pad", "name": "Pad", "reorder_level": "0"})
    assert answer.status_code == 422
    assert "not both" in answer.text


def test_a_free_part_is_changed_and_a_thing_of_the_catalog_keeps_its_name(desk, bench):
    part, oil = make_item(bench=bench, name="Stop"), make_item(bench=bench)
    desk.post(at("stock-change", part.pk), {"name": "Slide stop", "reorder_level": "1"})
    desk.post(at("stock-change", oil.pk), {"name": "Snake oil", "reorder_level": "1"})
    assert {row.name for row in StockItem.objects.all()} == {"Slide stop", "valve oil"}


def test_somebody_who_only_reads_sees_no_button(client, director, auditor, bench):
    item = make_item(bench=bench)
    client.force_login(auditor)
    assert at("stock-count", item.pk) not in client.get(at("stock-item", item.pk)).text


def test_work_at_the_bench_lowers_its_stock(school):
    job = make_full_job(school=school, findings=[LEAKING_CORK])
    items = {code: make_item(bench=job.bench, code=code, quantity="9") for code in sorted(known_codes())}
    work_to_the_proof(job)
    used = Counter()
    for attempt in job.attempts.all():
        for row in attempt.parts_used:
            used[row["code"]] += Decimal(row["quantity"])
    assert used
    for code, item in items.items():
        item.refresh_from_db()
        assert item.quantity == 9 - used[code]


def test_the_shopping_list_is_the_same_on_page_paper_and_table(desk, school):
    job = make_full_job(school=school, findings=[LEAKING_CORK])
    make_item(bench=job.bench, code="pad", quantity="1", reorder_level=Decimal(30), price_amount=Decimal(2))
    page = desk.get(at("shopping", job.bench.code) + "?jobs=3").text
    assert "29 pads" in page
    assert "$58" in page
    paper = desk.get(at("shopping-pdf", job.bench.code) + "?jobs=3")
    assert paper.headers["Content-Type"] == "application/pdf"
    assert paper.content.startswith(b"%PDF")
    table = desk.get(at("shopping-csv", job.bench.code) + "?jobs=3").content.decode("utf-8-sig")
    rows = {row["Item"]: row for row in csv.DictReader(io.StringIO(table))}
    assert (rows["pad"]["Buy"], rows["pad"]["Cost"]) == ("29", "58.00")
    assert len(rows) > 1  # what the job's plan needs stands beside it


def test_a_name_that_looks_like_a_formula_is_made_safe_in_the_table(desk, bench):
    make_item(bench=bench, name="=1+1", reorder_level=Decimal(1))
    assert "'=1+1" in desk.get(at("shopping-csv", "elm-bench")).content.decode("utf-8-sig")


@pytest.mark.parametrize("jobs", ["-1", "many", "999999999999"])
def test_a_count_of_jobs_that_is_none_is_asked_again(desk, bench, jobs):
    assert desk.get(at("shopping", "elm-bench") + f"?jobs={jobs}").status_code == 422


def test_another_schools_item_does_not_exist_here(desk):
    item = make_item(bench=make_bench(school=make_school()))
    for name in (
        "stock-item", "stock-receive", "stock-count", "stock-change", "stock-move", "stock-retire", "stock-bring-back",
    ):  # fmt: skip
        assert desk.get(at(name, item.pk)).status_code == 404
    assert desk.post(at("stock-receive", item.pk), {"quantity": "1", "nonce": new_nonce()}).status_code == 404
    assert StockItem.objects.get().quantity == 0


def test_the_list_costs_the_same_for_one_item_and_for_twenty(desk, bench):
    make_item(bench=bench, name="Part 0")
    url = at("bench-stock", "elm-bench")
    desk.get(url)
    with CaptureQueriesContext(connection) as one:
        desk.get(url)
    for number in range(1, 20):
        make_item(bench=bench, name=f"Part {number}")
    with CaptureQueriesContext(connection) as twenty:
        desk.get(url)
    assert len(twenty) == len(one) <= 14


def test_a_list_for_no_job_says_so(desk, bench):
    page = desk.get(at("shopping", "elm-bench") + "?jobs=0").text
    assert "To keep the bench stocked; for no job." in page
    assert "0 jobs" not in page


@pytest.mark.parametrize("quantity", [MOST_ON_RECORD, -MOST_ON_RECORD])
def test_every_page_of_stock_opens_with_the_worst_that_the_database_holds(desk, school, quantity):
    job = make_full_job(school=school, findings=[LEAKING_CORK])
    for code in ("pad", "water_key_corks"):
        item = make_item(bench=job.bench, code=code)
        StockMove.objects.create(
            item=item, why="received", quantity=LARGEST_MOVE, after_quantity=LARGEST_MOVE, amount=MOST_PAID,
            nonce=new_nonce(), at=NOW, actor=make_user(),
        )  # fmt: skip
        StockItem.objects.filter(pk=item.pk).update(
            quantity=quantity, price_amount=MOST_EACH, typed_amount=MOST_EACH, reorder_level=MOST
        )
    code = job.bench.code
    for name, at_what in (
        ("stock-item", item.pk), ("stock-receive", item.pk), ("stock-count", item.pk), ("stock-change", item.pk),
        ("stock-reverse", StockMove.objects.first().pk), ("bench-stock", code), ("shopping", code),
        ("shopping-csv", code), ("shopping-pdf", code), ("job", job.pk),
    ):  # fmt: skip
        assert desk.get(at(name, at_what)).status_code == 200, name


def test_so_little_for_so_much_is_refused_and_stays_typed(desk, bench):
    item = make_item(bench=bench)
    form = {"quantity": "0.001", "amount": "999999", "nonce": new_nonce()}
    answer = desk.post(at("stock-receive", item.pk), form)
    assert answer.status_code == 422
    assert "$999,999 for 0.001 is more apiece than anything here costs" in answer.text
    assert 'value="0.001"' in answer.text
    item.refresh_from_db()
    assert (item.quantity, item.price_amount) == (0, None)


def test_a_wrong_receipt_is_reversed_from_its_page_where_both_stand_then(desk, bench, tech):
    item = make_item(bench=bench, quantity="6")
    move = item.moves.get()
    assert at("stock-reverse", move.pk) in desk.get(at("stock-item", item.pk)).text
    assert desk.get(at("stock-reverse", move.pk)).status_code == 200
    form = {"because": "Came for the <b>choir</b>", "nonce": new_nonce()}
    for _ in range(2):
        answer = desk.post(at("stock-reverse", move.pk), form, follow=True)
        assert "Reversed. On record now: 0 bottles." in answer.text
    page = " ".join(answer.text.split())
    assert "<s>Received 6 bottles</s>" in page
    assert "Reversed: Received 6 bottles" in page
    assert f"{tech} reversed this on" in page
    assert "&lt;b&gt;choir" in page
    assert at("stock-reverse", move.pk) not in page
    again = desk.post(at("stock-reverse", move.pk), {"because": "Once more", "nonce": new_nonce()})
    assert again.status_code == 422
    assert f"{tech} reversed this already" in again.text
    assert desk.post(at("stock-reverse", move.pk), {"because": ""}).status_code == 422
    assert StockMove.objects.count() == 2


def test_a_move_of_another_school_is_not_there_to_be_reversed(desk):
    item = make_item(bench=make_bench(school=make_school()), quantity="6")
    move = item.moves.get()
    assert desk.post(at("stock-reverse", move.pk), {"because": "x", "nonce": new_nonce()}).status_code == 404


def test_stock_moves_only_to_benches_where_one_may_change_it(desk, school, bench):
    item = make_item(bench=bench, quantity="6")
    assert at("stock-move", item.pk) not in desk.get(at("stock-item", item.pk)).text
    second, theirs = make_bench(school=school, name="Second"), make_bench(school=make_school(), name="Theirs")
    assert at("stock-move", item.pk) in desk.get(at("stock-item", item.pk)).text
    page = desk.get(at("stock-move", item.pk)).text
    assert "Second" in page
    assert "Theirs" not in page
    form = {"quantity": "2", "nonce": new_nonce()}
    assert desk.post(at("stock-move", item.pk), form | {"to": theirs.code}).status_code == 422
    for _ in range(2):
        desk.post(at("stock-move", item.pk), form | {"to": second.code})
    there = StockItem.objects.get(bench=second)
    assert there.quantity == 2
    assert "Moved 2 bottles to Second" in desk.get(at("stock-item", item.pk)).text
    assert "Moved 2 bottles here from Bench" in desk.get(at("stock-item", there.pk)).text


def test_a_retired_item_leaves_the_lists_and_comes_back_from_its_page(desk, bench, tech):
    item = make_item(bench=bench, reorder_level=Decimal(2))
    assert "2 bottles of valve oil" in desk.get(at("shopping", bench.code)).text
    for _ in range(2):
        assert desk.post(at("stock-retire", item.pk)).status_code == 302
    assert "bottles of valve oil" not in desk.get(at("shopping", bench.code)).text
    page = desk.get(at("bench-stock", bench.code)).text
    assert "Retired" in page
    assert "Below 2" not in page
    page = desk.get(at("stock-item", item.pk)).text
    assert f"{tech} retired this on" in page
    assert at("stock-receive", item.pk) not in page
    form = {"code": "valve_oil", "reorder_level": "0"}
    assert "Bring it back first" in desk.post(at("add-stock", bench.code), form).text
    desk.post(at("stock-bring-back", item.pk))
    assert "Below 2 bottles." in desk.get(at("bench-stock", bench.code)).text
    receive_stock(item=item, quantity=Decimal(1), nonce=new_nonce(), actor=tech, at=NOW)
    assert desk.post(at("stock-retire", item.pk)).status_code == 422


def test_supplier_and_part_number_stand_on_the_page_and_the_shopping_list_goes_by_them(desk, bench):
    form = {"code": "valve_oil", "reorder_level": "2", "supplier": "Mill Lane", "part_number": "VO-3"}
    desk.post(at("add-stock", bench.code), form)
    desk.post(at("add-stock", bench.code), {"code": "pad", "reorder_level": "5"})
    page = " ".join(desk.get(at("stock-item", StockItem.objects.get(code="valve_oil").pk)).text.split())
    assert "Bought from: Mill Lane Part number: VO-3" in page
    page = desk.get(at("shopping", bench.code)).text
    assert page.index("Mill Lane") < page.index("valve oil") < page.index("No supplier noted") < page.index("5 pads")
    assert "part number VO-3" in " ".join(page.split())
    table = desk.get(at("shopping-csv", bench.code)).content.decode("utf-8-sig")
    rows = {row["Item"]: row for row in csv.DictReader(io.StringIO(table))}
    assert (rows["valve oil"]["Supplier"], rows["valve oil"]["Part number"]) == ("Mill Lane", "VO-3")


def test_a_history_of_every_kind_costs_the_same_for_one_move_and_for_ten(desk, bench, tech):
    item = make_item(bench=bench, quantity="1")
    url = at("stock-item", item.pk)
    desk.post(at("stock-reverse", item.moves.get().pk), {"because": "Slip", "nonce": new_nonce()})
    desk.get(url)
    with CaptureQueriesContext(connection) as few:
        desk.get(url)
    for _ in range(5):
        desk.post(at("stock-receive", item.pk), {"quantity": "1", "nonce": new_nonce()})
        desk.post(at("stock-reverse", item.moves.first().pk), {"because": "Slip", "nonce": new_nonce()})
    with CaptureQueriesContext(connection) as many:
        desk.get(url)
    assert len(many) == len(few)


def test_a_job_says_on_its_page_and_in_the_list_what_is_out_of_stock(desk, school):
    job = make_full_job(school=school, findings=[LEAKING_CORK])
    item = make_item(bench=job.bench, code="water_key_corks")
    for page in (desk.get(at("job", job.pk)).text, desk.get(at("jobs")).text):
        assert "Not in stock: 1 of the water-key corks." in " ".join(page.split())
    assert at("shopping", job.bench.code) in desk.get(at("job", job.pk)).text
    receive_stock(item=item, quantity=Decimal(1), nonce=new_nonce(), actor=make_user(), at=NOW)
    for page in (desk.get(at("job", job.pk)).text, desk.get(at("jobs")).text):
        assert "Not in stock" not in page


def test_whoever_keeps_the_stock_of_two_schools_moves_it_between_them(desk, tech, bench):
    there = make_bench(school=make_school(), name="The other school's")
    item = make_item(bench=bench, quantity="6")
    form = {"quantity": "2", "to": there.code, "nonce": new_nonce()}
    assert desk.post(at("stock-move", item.pk), form).status_code == 422
    StaffRole.objects.create(user=tech, role=Role.TECH, school=there.school)
    assert desk.post(at("stock-move", item.pk), form).status_code == 302
    assert StockItem.objects.get(bench=there).quantity == 2
