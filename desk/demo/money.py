"""Stock, shop orders and one parts instrument. Draws no random numbers, so the rest of the year stays the same."""

from __future__ import annotations

import uuid
from collections import Counter
from datetime import timedelta
from decimal import Decimal

from django.db.models import QuerySet

from desk.demo.stage import Stage, read_data
from inventory.catalog.load import catalog
from inventory.catalog.schema import Family
from inventory.models import Finding, Instrument, Verdict, Whereabouts
from inventory.services.care import record_play_test
from repairs.models import RepairBudget, Shop, ShopOrder, StockItem
from repairs.pages.orders import asking
from repairs.rules.matched import set_of, takeable
from repairs.rules.worth import Answer
from repairs.selectors.shops import approval_limit
from repairs.selectors.worth import worth_of
from repairs.services.budgets import add_budget
from repairs.services.donors import mark_parts_instrument, take_part
from repairs.services.orders import (
    approve_order,
    ask_shop,
    bring_back,
    note_estimate,
    note_invoice,
    send_to_shop,
    tie_play_test,
)
from repairs.services.shops import add_shop
from repairs.services.stock import add_stock_item, count_stock, receive_stock, reverse_stock_move
from repairs.services.taken_parts import part_fits, withdraw_taken_part
from repairs.services.worth import decide_worth


def nonce_of(words: str) -> uuid.UUID:
    return uuid.uuid5(uuid.NAMESPACE_OID, f"demonstration {words}")


def add_shops_and_stock(stage: Stage) -> None:
    """Add two shops, and stock the repair room a year ago; the year's jobs use it up."""
    tech, at = stage.people["tech"], stage.at(-415, 8)
    data = read_data("money")
    for shop in data["shops"]:
        add_shop(**shop, actor=tech, at=at)
    bench = stage.benches["alder-bench"]
    for code, (quantity, level) in data["stock"].items():
        item = add_stock_item(
            bench=bench,
            code=code,
            reorder_level=Decimal(level),
            place="Drawer cabinet",
            supplier="District warehouse",
            actor=tech,
            at=at,
        )
        receive_stock(item=item, quantity=Decimal(quantity), nonce=nonce_of(code), actor=tech, at=at)
    stop = add_stock_item(
        bench=bench, name="Third-slide stop screw", unit="each", fits_maker="Larkmoor", reorder_level=Decimal(2),
        price_amount=Decimal("3.20"), place="Small parts, row B", supplier="Larkmoor parts desk", part_number="TS-3",
        actor=tech, at=at,
    )  # fmt: skip
    slip = receive_stock(item=stop, quantity=Decimal(50), nonce=nonce_of("too many screws"), actor=tech, at=at)
    reverse_stock_move(
        move=slip, because="Five came, not fifty", nonce=nonce_of("screws reversed"), actor=tech, at=at
    )  # fmt: skip
    receive_stock(item=stop, quantity=Decimal(5), nonce=nonce_of("stop screw"), actor=tech, at=at)


def add_repair_budget(stage: Stage) -> None:
    """What the middle school may spend this year; its orders are booked to it."""
    school = stage.benches["alder-bench"].school
    add_budget(
        school=school, fund="Band fund", begins_on=stage.today - timedelta(days=150),
        ends_on=stage.today + timedelta(days=214), amount=Decimal(3500), actor=stage.director_of(school),
        at=stage.at(-150, 9),
    )  # fmt: skip


def add_shop_orders(stage: Stage) -> None:
    """Add a stock count, a late order, a returned one, a pending decision, and a parts instrument that gave a part."""
    for code, left in read_data("money")["low"].items():
        item = StockItem.objects.get(bench=stage.benches["alder-bench"], code=code)
        count_stock(
            item=item, quantity=Decimal(left), nonce=nonce_of(f"count {code}"), actor=stage.people["tech"],
            at=stage.at(-6, 16),
        )  # fmt: skip
    to_shop, for_parts = sorted_by_worth(stage)
    at_home = [row for row in [*to_shop[2:], *for_parts[2:]] if row.school.code == "ALDER"]
    add_repair_budget(stage)
    acts = (
        (return_order, to_shop[:1]),
        (make_late_order, to_shop[1:2]),
        (take_part_for_another, for_parts[:1]),
        (propose_giving_up, for_parts[1:2]),
        (exceed_approval_limit, at_home[:1]),
    )
    for act, rows in acts:  # a small demo may lack one
        for row in rows:
            act(stage, row)


def sorted_by_worth(stage: Stage) -> tuple[list[Instrument], list[Instrument]]:
    """Return the instruments worth sending to a shop (most expensive first), and those worth only their parts."""
    at, today = stage.at(-1, 15), stage.today - timedelta(days=1)
    found: dict[str, list[Instrument]] = {}
    fees: dict[int, float] = {}
    for row in instruments_with_findings(stage):
        page = worth_of(row, is_student_waiting=False, now=at, today=today)
        found.setdefault(page.worth.answer.value, []).append(row)
        fees[row.pk] = page.facts.outside_mean
    to_shop, for_parts = (found.get(answer, []) for answer in (Answer.SEND_OUT.value, Answer.KEEP_FOR_PARTS.value))
    others = found.get(Answer.REPAIR_HERE.value, [])
    to_shop.sort(key=lambda row: (-fees[row.pk], row.asset_number))
    # If chance left too few of either, take from those that could be repaired here.
    to_shop, for_parts = [*to_shop, *others[:2]], [*for_parts, *others[2:]]
    alike = Counter(row.kind_code for row in stage.fleet)  # its part goes onto one of its kind
    for_parts.sort(key=lambda row: (alike[row.kind_code] == 1, row.kind.family == Family.PERCUSSION, row.asset_number))
    return to_shop, for_parts


def instruments_with_findings(stage: Stage) -> QuerySet[Instrument]:
    """Return instruments in storage with findings that have not moved for three months."""
    since = stage.at(-90)
    rows = Instrument.objects.filter(
        pk__in=[row.pk for row in stage.fleet],
        whereabouts=Whereabouts.IN_STORE,
        verdict__in=[Verdict.DOES_NOT_PLAY, Verdict.PLAYS_WITH_LIMITS],
        is_parts_instrument=False,
        custodies__until=None,
        custodies__since__lt=since,
    )
    old = Finding.objects.standing().filter(inspection__finished_at__lt=since)
    return rows.filter(pk__in=old.values("instrument")).order_by("asset_number").select_related("school")


def request_estimate(stage: Stage, instrument: Instrument, *, shop: int, days: int, share: Decimal) -> ShopOrder:
    """Ask a shop for an estimate, and record it two days later: ``share`` of the most that was expected."""
    tech = stage.people["tech"]
    filled = asking(instrument)
    findings = list(
        Finding.objects.filter(instrument=instrument, inspection__finished_at__lt=stage.at(days))
        .standing()
        .values_list("pk", flat=True)
    )
    fields = {"question": "Please look at what is marked and say what it would cost.", **filled}
    fields["findings"] = [pk for pk in findings if pk in filled.get("findings", ())] or findings
    order = ask_shop(
        shop=Shop.objects.get(name=read_data("money")["shops"][shop]["name"]), instrument=instrument, nonce=nonce_of(f"order {instrument.pk}"),
        actor=tech, at=stage.at(days, 9), budget=RepairBudget.objects.filter(school=instrument.school).first(), **fields,
    )  # fmt: skip
    on = stage.today + timedelta(days=days + 2)
    amount = ((order.expected_high_amount or Decimal(80)) * share).quantize(Decimal(1))
    return note_estimate(order=order, amount=amount, on=on, actor=tech, at=stage.at(days + 2, 10))


def return_order(stage: Stage, instrument: Instrument) -> None:
    """Approved above the limit, back after two weeks, play-tested, and billed a little above the estimate."""
    tech, director = stage.people["tech"], stage.director_of(instrument.school)
    order = request_estimate(stage, instrument, shop=0, days=-62, share=Decimal("0.95"))
    estimate = order.known_amount or Decimal(0)
    approve_order(order=order, amount=max(estimate, approval_limit()) + 20, actor=director, at=stage.at(-59, 12))
    send_to_shop(order=order, promised_on=stage.today - timedelta(days=44), actor=tech, at=stage.at(-58, 8))
    bring_back(
        order=order, what_was_done="Fixed everything on the order, cleaned and oiled.", put_right=order.findings,
        warranty_until=stage.today + timedelta(days=46), actor=tech, at=stage.at(-44, 15),
    )  # fmt: skip
    played = record_play_test(
        instrument=instrument, result="pass", tester_plays="trumpet", room_celsius=Decimal("20.5"), actor=tech,
        at=stage.at(-43, 9),
    )  # fmt: skip
    tie_play_test(order=order, play_test=played, actor=tech, at=stage.at(-43, 9))
    note_invoice(
        order=order, amount=estimate + Decimal("12.50"), number="2207", on=stage.today - timedelta(days=40), actor=tech,
        at=stage.at(-38, 9),
    )  # fmt: skip


def make_late_order(stage: Stage, instrument: Instrument) -> None:
    """Promised for last week and not back yet."""
    tech = stage.people["tech"]
    order = request_estimate(stage, instrument, shop=1, days=-26, share=Decimal("0.8"))
    if order.known_amount and order.known_amount > approval_limit():
        director = stage.director_of(instrument.school)
        approve_order(order=order, amount=order.known_amount, actor=director, at=stage.at(-23, 7))
    send_to_shop(order=order, promised_on=stage.today - timedelta(days=5), actor=tech, at=stage.at(-23, 8))


def exceed_approval_limit(stage: Stage, instrument: Instrument) -> None:
    """The estimate is above the approval limit and waits for a director."""
    order = request_estimate(stage, instrument, shop=0, days=-5, share=Decimal(1))
    note_estimate(
        order=order, amount=approval_limit() + 65, on=stage.today - timedelta(days=2), actor=stage.people["tech"],
        at=stage.at(-2, 11),
    )  # fmt: skip


def propose_giving_up(stage: Stage, instrument: Instrument) -> None:
    """The tech proposes to give this one up; a director has to approve."""
    at = stage.at(-1, 15)
    page = worth_of(instrument, is_student_waiting=False, now=at, today=stage.today - timedelta(days=1))
    decide_worth(
        instrument=instrument, answer=Answer.KEEP_FOR_PARTS.value, worth=page.worth, is_student_waiting=False,
        because="Its parts would fix two others.", nonce=nonce_of(f"decision {instrument.pk}"),
        actor=stage.people["tech"], at=at,
    )  # fmt: skip


def take_part_for_another(stage: Stage, instrument: Instrument) -> None:
    """Keep one for parts, and fit one of its parts to another of its kind; a second was entered by mistake."""
    tech, at = stage.people["tech"], stage.at(-20, 14)
    parts_instrument = mark_parts_instrument(
        instrument=instrument,
        because="The repair costs more than it is worth.",
        actor=stage.director_of(instrument.school),
        at=at,
    )
    onto = (
        Instrument.objects.filter(pk__in=[row.pk for row in stage.fleet], kind_code=instrument.kind_code)
        .exclude(pk=instrument.pk)
        .order_by("asset_number")
        .first()
    )
    parts, trade = instrument.parts, catalog()
    left = takeable(parts, roles=trade.roles)
    singles = [one for one in left if set_of(parts, part=one[0], sets=trade.fitted_sets) is None]
    if onto is None:
        return
    for (part, place), hour in zip(singles, (10, 15), strict=False):
        taken = take_part(
            parts_instrument=parts_instrument, part=part, place=place, onto=onto, batch=nonce_of(f"part at {hour}"),
            actor=tech, at=stage.at(-19, hour),
        )[0]  # fmt: skip
        if hour == 10:
            part_fits(taken=taken, actor=tech, at=stage.at(-19, hour + 1))
        else:
            withdraw_taken_part(
                taken=taken, because="Left on: the other one was good after a cleaning.", nonce=nonce_of("slip"),
                actor=tech, at=stage.at(-19, hour + 1),
            )  # fmt: skip
