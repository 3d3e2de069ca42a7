from __future__ import annotations

from typing import Any

from inventory.models import School
from tests.factories import make_bench, make_ready_instrument
from tests.permission_matrix import Row
from tests.permission_matrix.makers import instrument_number
from tests.repairs.money_makers import (
    make_budget,
    make_decision,
    make_item,
    make_order,
    make_parts_instrument,
    make_shop,
    make_stuck_instrument,
    make_taken,
)


def bench_code(school: School) -> tuple[Any, ...]:
    return (make_bench(school=school).code,)


def item_pk(school: School) -> tuple[Any, ...]:
    return (make_item(bench=make_bench(school=school)).pk,)


def move_pk(school: School) -> tuple[Any, ...]:
    return (make_item(bench=make_bench(school=school), quantity="2").moves.get().pk,)


def parts_instrument_number(school: School) -> tuple[Any, ...]:
    return (make_parts_instrument(school=school).instrument.asset_number,)


def taken_pk(school: School) -> tuple[Any, ...]:
    onto = make_ready_instrument(school=school)
    return (make_taken(make_parts_instrument(school=school), onto=onto)[0].pk,)


def shop_pk(school: School) -> tuple[Any, ...]:
    return (make_shop().pk,)


def order_pk(school: School) -> tuple[Any, ...]:
    return (make_order(instrument=make_stuck_instrument(school=school)).pk,)


def budget_pk(school: School) -> tuple[Any, ...]:
    return (make_budget(school).pk,)


def decision_pk(school: School) -> tuple[Any, ...]:
    order = make_order(instrument=make_stuck_instrument(school=school))
    decision = make_decision(order.instrument, cost=180.0, actor=order.asked_by)
    return (decision.pk,)


STOCK, CHANGE, TAKE = "repairs.view_stock", "repairs.change_stock", "repairs.take_part"
SHOP, SEND, APPROVE = "repairs.view_shop", "repairs.send_out", "repairs.approve_cost"
BUDGET = "repairs.view_budget"

ROWS = {
    "repairs:stock": Row(STOCK, own=False),
    "repairs:bench-stock": Row(STOCK, make=bench_code),
    "repairs:add-stock": Row(CHANGE, make=bench_code),
    "repairs:shopping": Row(STOCK, make=bench_code),
    "repairs:shopping-pdf": Row(STOCK, make=bench_code),
    "repairs:shopping-csv": Row(STOCK, make=bench_code),
    "repairs:stock-item": Row(STOCK, make=item_pk),
    "repairs:stock-receive": Row(CHANGE, make=item_pk),
    "repairs:stock-count": Row(CHANGE, make=item_pk),
    "repairs:stock-change": Row(CHANGE, make=item_pk),
    "repairs:stock-move": Row(CHANGE, make=item_pk),
    "repairs:stock-retire": Row(CHANGE, make=item_pk),
    "repairs:stock-bring-back": Row(CHANGE, make=item_pk),
    "repairs:stock-reverse": Row(CHANGE, make=move_pk),
    "repairs:parts-horns": Row(STOCK, own=False),
    "repairs:parts-horn": Row(STOCK, make=parts_instrument_number),
    "repairs:take-part": Row(TAKE, make=parts_instrument_number),
    "repairs:unmark-parts-horn": Row(TAKE, make=parts_instrument_number),
    "repairs:mark-parts-horn": Row("repairs.decide_worth", make=instrument_number),
    "repairs:taken-part": Row(STOCK, make=taken_pk),
    "repairs:part-off": Row(TAKE, make=taken_pk),
    "repairs:withdraw-taken": Row(TAKE, make=taken_pk),
    "repairs:note-fit": Row(TAKE, make=taken_pk, method="post"),
    "repairs:shops": Row(SHOP, own=False),
    "repairs:shop": Row(SHOP, make=shop_pk, own=False),
    "repairs:add-shop": Row("repairs.change_shop", own=False),
    "repairs:change-shop": Row("repairs.change_shop", make=shop_pk, own=False),
    "repairs:ask-shop": Row(SEND, make=instrument_number),
    "repairs:order": Row(SHOP, make=order_pk),
    "repairs:order-estimate": Row(SEND, make=order_pk),
    "repairs:order-approve": Row(APPROVE, make=order_pk),
    "repairs:order-refuse": Row(APPROVE, make=order_pk),
    "repairs:order-work": Row(SEND, make=order_pk),
    "repairs:budgets": Row(BUDGET, own=False),
    "repairs:add-budget": Row("repairs.change_budget", own=False),
    "repairs:change-budget": Row("repairs.change_budget", make=budget_pk),
    "repairs:order-books": Row(BUDGET, own=False),
    "repairs:order-send": Row(SEND, make=order_pk),
    "repairs:order-back": Row(SEND, make=order_pk),
    "repairs:order-invoice": Row(SEND, make=order_pk),
    "repairs:order-warranty": Row(SEND, make=order_pk, method="post"),
    "repairs:order-call-off": Row(SEND, make=order_pk),
    "repairs:order-promise": Row(SEND, make=order_pk),
    "repairs:order-take-back": Row(SEND, make=order_pk),
    "repairs:order-unapprove": Row(APPROVE, make=order_pk),
    "repairs:packing-slip": Row(SHOP, make=order_pk),
    "repairs:worth": Row("repairs.view_worth", make=instrument_number),
    "repairs:decide-worth": Row("repairs.decide_worth", make=instrument_number, method="post"),
    "repairs:approvals": Row(APPROVE, own=False),
    "repairs:read-answer": Row("repairs.decide_worth", make=decision_pk, method="post"),
    "repairs:settle-worth": Row(APPROVE, make=decision_pk, method="post"),
}
