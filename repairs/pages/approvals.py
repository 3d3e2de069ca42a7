"""What waits for an approval, in words: why, who gives it, and what comes next on an order's page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext

from inventory.access import has_perm_at_school, is_barred
from inventory.catalog.load import catalog
from inventory.models import School
from repairs.models import ShopOrder, WorthDecision
from repairs.rules.shops import Wait, wait_words
from repairs.selectors.approvals import has_other_approver
from repairs.selectors.shops import limits_today, wait_of


def approval_lines(orders: Iterable[ShopOrder]) -> list[dict[str, Any]]:
    """Return what waits for an approval, with the reason and the amount."""
    limits = limits_today()
    return [
        {"order": order, "amount": order.money.wanted, "waits_for": wait_words(order.money, limits)} for order in orders
    ]


def approver_words(user: Any, *, asker_id: int, school: School) -> str:
    """Say who approves, if it is not this user. One query if they asked for it."""
    if not has_perm_at_school(user, "repairs.approve_cost", school.pk):
        return gettext("A director or an administrator approves it.")
    if not is_barred(user, asker_id=asker_id):
        return ""
    if has_other_approver(user, school_id=school.pk):
        return gettext("You asked for it. Another director or an administrator approves it.")
    return gettext(
        "You asked for it, and nobody else may approve at %(school)s. An administrator gives somebody that role under"
        " People, or, in a district of one person, sets “%(figure)s” to no under Figures."
    ) % {"school": school, "figure": catalog().setting_notes["approver_is_another"].name}


def decision_lines(user: Any, decisions: Iterable[WorthDecision]) -> list[tuple[WorthDecision, str]]:
    """Return each with who approves it in words. One query for each school where the user asked for some."""
    words: dict[tuple[int, int], str] = {}
    lines = []
    for one in decisions:
        key = (one.decided_by_id, one.instrument.school_id)
        if key not in words:
            words[key] = approver_words(user, asker_id=one.decided_by_id, school=one.instrument.school)
        lines.append((one, words[key]))
    return lines


def acts_of(order: ShopOrder, *, may_send: bool, may_approve: bool) -> list[dict[str, Any]]:
    """Return the buttons of an order's page, the main one last."""
    wait = wait_of(order)
    if wait and may_approve:
        names = ["order-refuse"] if wait is Wait.ESTIMATE_FIRST else ["order-refuse", "order-approve"]
    else:
        names = _next_of(order, wait) if may_send else []
    if may_send and wait is Wait.ESTIMATE_FIRST:
        names = [*names, "order-estimate"]
    labels = _labels(order, wait)
    return [
        {"label": labels[name], "url": reverse(f"repairs:{name}", args=[order.pk]), "main": name == names[-1]}
        for name in names
    ]


def _labels(order: ShopOrder, wait: Wait | None) -> dict[str, str]:
    is_first = order.estimate_amount is None
    return {
        "order-refuse": gettext("Do not approve"),
        "order-approve": gettext("Accept the bill") if wait is Wait.BILL else gettext("Approve cost"),
        "order-estimate": gettext("Their estimate") if is_first else gettext("New estimate"),
        "order-call-off": gettext("Cancel the order"),
        "order-send": gettext("Send it out"),
        "order-work": gettext("Go ahead"),
        "order-back": gettext("It is back"),
        "order-invoice": gettext("Correct the bill") if order.refused_at else gettext("Record the bill"),
    }


def _next_of(order: ShopOrder, wait: Wait | None) -> list[str]:
    """Return what whoever sends it out does next, the main act last."""
    if order.called_off_at:
        return []
    if order.returned_at:
        return ["order-invoice"] if order.is_bill_to_come or order.refused_at else []
    if order.refused_at:
        return ["order-estimate", "order-back"] if order.sent_at else ["order-call-off", "order-estimate"]
    has_estimate = order.estimate_amount is not None
    if order.sent_at is None:
        if wait:
            return ["order-estimate"] if wait is Wait.NO_AMOUNT else []
        return ["order-work", "order-send"] if order.is_estimate_only and has_estimate else ["order-send"]
    if order.is_estimate_only and not wait:
        return ["order-back", "order-work" if has_estimate else "order-estimate"]
    return ["order-back"]
