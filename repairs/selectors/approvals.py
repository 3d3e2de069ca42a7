"""Who approves what somebody asked for."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from core.models import Event
from inventory.access import people_who_may
from repairs.models import ShopOrder

LEFT = ("sent_to_shop", "work_ordered")


def approval_differences() -> list[str]:
    """Return a sentence for each approval that no event tells of, and each order that left above what was allowed.

    What was allowed is what the event kept: limits change, and earlier events kept none.
    """
    rows = Event.objects.filter(act__in=("cost_approved", *LEFT), subject_type=ShopOrder._meta.label_lower)
    approvals, found = set(), []
    for event in rows.order_by("number").iterator():
        after = event.after
        if event.act == "cost_approved":
            approvals.add((event.subject_id, event.actor_id, Decimal(after["amount"])))
        elif after.get("limit") and after["amount"]:
            amount, approved = Decimal(after["amount"]), Decimal(after["approved"] or 0)
            if amount > max(Decimal(after["limit"]), approved):
                found.append(f"order {event.subject_id}: {event.act} at {amount}, approved {approved}")
    found.extend(
        f"order {order.pk}: approved up to {order.approved_amount}, but no event says so"
        for order in ShopOrder.objects.filter(approved_at__isnull=False)
        if (str(order.pk), order.approved_by_id, order.approved_amount) not in approvals
    )
    return found


def has_other_approver(user: Any, *, school_id: int) -> bool:
    """Whether anybody else may approve costs at the school. One query."""
    return people_who_may("repairs.approve_cost", school_id=school_id).exclude(pk=user.pk).exists()
