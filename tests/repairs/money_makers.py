"""Rows for tests of stock, shops and worth, through the services."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from decimal import Decimal
from typing import Any

from core.models import User
from inventory.catalog.load import catalog
from inventory.models import Finding, Instrument, Role, School
from repairs.models import (
    Attempt,
    Bench,
    Job,
    PartsInstrument,
    RepairBudget,
    Shop,
    ShopOrder,
    StockItem,
    TakenPart,
    WorthDecision,
)  # fmt: skip
from repairs.rules.effort import Estimate
from repairs.rules.facts import Outcome
from repairs.rules.worth import Worth, WorthFacts, judge_worth
from repairs.services.donors import mark_parts_instrument, take_part
from repairs.services.jobs import open_job
from repairs.services.orders import ask_shop, bring_back, note_estimate, note_invoice, send_to_shop
from repairs.services.shops import add_shop
from repairs.services.stock import add_stock_item, receive_stock
from repairs.services.worth import decide_worth, settle_decision
from tests.factories import NOW, TODAY, make_bench, make_inspection, make_ready_instrument, make_user, new_nonce

STUCK = [("main_tuning_slide", "slide_seized", "moderate")]


def make_item(*, bench: Bench | None = None, quantity: str = "0", **overrides: Any) -> StockItem:
    bench = bench or make_bench()
    fields: dict[str, Any] = {"actor": make_user(Role.TECH, school=bench.school), "at": NOW} | overrides
    if not fields.get("name"):
        fields.setdefault("code", "valve_oil")
    item = add_stock_item(bench=bench, **fields)
    if Decimal(quantity):
        receive_stock(item=item, quantity=Decimal(quantity), nonce=new_nonce(), actor=fields["actor"], at=NOW)
    return StockItem.objects.get(pk=item.pk)


def make_parts_instrument(*, instrument: Instrument | None = None, **overrides: Any) -> PartsInstrument:
    instrument = instrument or make_ready_instrument(**overrides)
    actor = make_user(Role.DIRECTOR, school=instrument.school)
    return mark_parts_instrument(instrument=instrument, because="Casing cracked", actor=actor, at=NOW)


def make_taken(parts_instrument: PartsInstrument, part: str = "bell", **overrides: Any) -> list[TakenPart]:
    """A part taken by whoever marked the instrument, and put onto ``onto`` or one made for it."""
    fields: dict[str, Any] = {
        "onto": overrides.pop("onto", None) or make_ready_instrument(kind_code=parts_instrument.instrument.kind_code),
        "batch": new_nonce(),
        "actor": parts_instrument.marked_by,
        "at": NOW,
    } | overrides
    return take_part(parts_instrument=parts_instrument, part=part, **fields)


def missing_at(instrument: Instrument) -> set[tuple[str, str]]:
    """What stands as missing there: parts and places."""
    rows = Finding.objects.filter(instrument=instrument, fault="missing_part").standing()
    return set(rows.values_list("part", "place"))


def make_shop(**overrides: Any) -> Shop:
    number = Shop.objects.count() + 1
    return add_shop(**({"name": f"Shop {number}", "actor": make_user(Role.TECH), "at": NOW} | overrides))


def make_order(*, instrument: Instrument | None = None, **overrides: Any) -> ShopOrder:
    instrument = instrument or make_stuck_instrument()
    fields: dict[str, Any] = {
        "shop": overrides.pop("shop", None) or make_shop(),
        "question": "Free the main slide.",
        "expected_high_amount": Decimal(80),
        "nonce": new_nonce(),
        "actor": make_user(Role.TECH, school=instrument.school),
        "at": NOW,
    } | overrides
    return ask_shop(instrument=instrument, **fields)


def where(order: ShopOrder) -> str:
    """Where its instrument is now."""
    return Instrument.objects.get(pk=order.instrument_id).whereabouts


def estimated(order: ShopOrder, amount: int) -> ShopOrder:
    """The order with this estimate of the shop's."""
    return note_estimate(order=order, amount=Decimal(amount), on=TODAY, actor=order.asked_by, at=NOW)


def make_budget(school: School, **overrides: Any) -> RepairBudget:
    """A fund of the school that runs today."""
    fields = {"fund": "Band fund", "begins_on": TODAY, "ends_on": TODAY + timedelta(days=300), "amount": Decimal(500)}
    return RepairBudget.objects.create(school=school, **(fields | overrides))


def make_sent_order(*, promised_in: int = 7, **fields: Any) -> ShopOrder:
    order = make_order(**fields)
    promised = TODAY + timedelta(days=promised_in)
    return send_to_shop(order=order, actor=order.asked_by, at=NOW, promised_on=promised)


def make_returned_order(*, days: int = 5, amount: int | None = None, **fields: Any) -> ShopOrder:
    """An order that came back ``days`` after it was sent, under warranty for thirty; billed if given an ``amount``."""
    order = make_sent_order(**fields)
    at = NOW + timedelta(days=days)
    order = bring_back(
        order=order, what_was_done="Done", actor=order.asked_by, at=at, warranty_until=(at + timedelta(days=30)).date()
    )
    if amount is not None:
        order = note_invoice(order=order, amount=Decimal(amount), on=at.date(), actor=order.asked_by, at=at)
    return order


def make_stuck_instrument(**overrides: Any) -> Instrument:
    instrument = make_ready_instrument(**overrides)
    make_inspection(instrument=instrument, findings=STUCK)
    return Instrument.objects.get(pk=instrument.pk)


def make_job(*, instrument: Instrument | None = None, bench: Bench | None = None) -> Job:
    instrument = instrument or make_stuck_instrument()
    bench = bench or make_bench(school=instrument.school)
    return open_job(instrument=instrument, bench=bench, actor=make_user(Role.TECH, school=instrument.school), at=NOW)


def finding_of(instrument: Instrument) -> Finding:
    return Finding.objects.filter(instrument=instrument).standing().get()


def make_worth(*, cost: float = 40.0, value: str = "500") -> Worth:
    """The answer for an instrument of the given value whose repair costs that much, at its own bench."""
    return judge_worth(
        WorthFacts(
            repair_limit=Decimal("0.5"), replacement_amount=Decimal(1000), value_amount=Decimal(value), life_years=15,
            years_left=10, upkeep_amount=Decimal(60), cost=Estimate(p50=cost, p80=cost, mean=cost), here_mean=cost,
            outside_mean=0.0, is_doable_here=True, is_for_shop=False,
            parts_value_amount=Decimal(20),
        ),
        settings=catalog().settings,
    )  # fmt: skip


def make_attempt(
    *,
    job: Job | None = None,
    parts: Sequence[tuple[str, Any]] = (("valve_oil", "0.15"),),
    outcome: Outcome = Outcome.DONE,
) -> Attempt:
    """A step that used so much of these codes; the stock does not know of it yet."""
    job = job or make_job()
    used = [{"code": code, "quantity": quantity, "amount": "1"} for code, quantity in parts]
    return Attempt.objects.create(
        job=job, nonce=new_nonce(), step_key="oil:::", method="oil", outcome=outcome, ended_at=NOW, parts_used=used,
        actor=job.opened_by,
    )  # fmt: skip


def on_hand(item: StockItem) -> Decimal:
    return StockItem.objects.get(pk=item.pk).quantity


def make_decision(
    instrument: Instrument | None = None, answer: str = "repair_here", *, cost: float = 40.0, **overrides: Any
) -> WorthDecision:
    """What a tech decides; above the limit, and to give an instrument up, it waits for somebody who may approve."""
    instrument = instrument or make_stuck_instrument()
    fields: dict[str, Any] = {
        "worth": make_worth(cost=cost),
        "is_student_waiting": False,
        "nonce": new_nonce(),
        "actor": overrides.pop("actor", None) or make_user(Role.TECH, school=instrument.school),
        "at": NOW,
    } | overrides
    return decide_worth(instrument=instrument, answer=answer, **fields)


def make_refusal(
    answer: str = "repair_here", *, instrument: Instrument | None = None, actor: User | None = None, because: str = ""
) -> WorthDecision:
    """A decision above the limit that a tech asked for and a director did not approve."""
    worth = make_worth(cost=180.0)
    because = because if answer == worth.answer else because or "All the same"
    decision = make_decision(instrument, answer, worth=worth, actor=actor, because=because)
    director = make_user(Role.DIRECTOR, school=decision.instrument.school)
    return settle_decision(
        decision=decision, is_approved=False, note="Buy one", actor=director, at=NOW + timedelta(hours=1)
    )
