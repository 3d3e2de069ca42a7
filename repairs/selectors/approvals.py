"""Who approves what somebody asked for."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db.models import Q

from core.access import roles_for
from core.models import Event
from inventory.catalog.load import catalog
from inventory.models import StaffRole
from repairs.models import ShopOrder

LEFT = ("sent_to_shop", "work_ordered")


def is_barred(user: Any, *, asker_id: int | None) -> bool:
    """Whether it is the user's own request, and the district has somebody else approve it."""
    return bool(catalog().settings["approver_is_another"]) and user.pk == asker_id


def approval_differences() -> list[str]:
    """Return a sentence for each approval that no event tells of, and each order that left above what was allowed.

    What was allowed is what the event kept: limits change, and earlier events kept none.
    """
    rows = Event.objects.filter(act__in=("cost_approved", *LEFT), subject_type=ShopOrder._meta.label_lower)
    told, found = set(), []
    for event in rows.order_by("number").iterator():
        after = event.after
        if event.act == "cost_approved":
            told.add((event.subject_id, event.actor_id, Decimal(after["amount"])))
        elif after.get("limit") and after["amount"]:
            amount, approved = Decimal(after["amount"]), Decimal(after["approved"] or 0)
            if amount > max(Decimal(after["limit"]), approved):
                found.append(f"order {event.subject_id}: {event.act} at {amount}, approved {approved}")
    found.extend(
        f"order {order.pk}: approved up to {order.approved_amount}, but no event says so"
        for order in ShopOrder.objects.filter(approved_at__isnull=False)
        if (str(order.pk), order.approved_by_id, order.approved_amount) not in told
    )
    return found


def has_other_approver(user: Any, *, school_id: int) -> bool:
    """Whether anybody else may approve costs at the school. One query."""
    held = StaffRole.objects.filter(role__in=roles_for("repairs.approve_cost"), user__is_active=True)
    return held.filter(Q(school=None) | Q(school=school_id)).exclude(user=user).exists()
