"""What a school may spend on repairs, from which fund, and when."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Q
from django.utils.translation import gettext

from core.acts import lock_row, service
from core.events import record_event
from core.models import User
from core.traces import as_left
from inventory.exceptions import RefusedError
from inventory.models import School
from inventory.services.checking import check_row, save_columns
from repairs.models import RepairBudget


@service(once="nonce")
def add_budget(*, school: School, actor: User, at: datetime, nonce: UUID | None = None, **columns: Any) -> RepairBudget:
    """Add a budget: fund, begins_on, ends_on and amount. One fund of a school has one budget at a time."""
    budget = RepairBudget(school=school, **_tidy(columns))
    _check(budget)
    budget.save(force_insert=True)
    record_event(act="budget_added", subject=budget, tenant=school.pk, after=_in_event(budget))
    return budget


@service
def change_budget(*, budget: RepairBudget, actor: User, at: datetime, **columns: Any) -> RepairBudget:
    """Correct a budget. What is booked to it stays."""
    fresh = lock_row(budget, "school")
    before = fresh.amount
    save_columns(fresh, check=_check, **_tidy(columns))
    record_event(
        act="budget_changed", subject=fresh, tenant=fresh.school_id, before={"amount": before},
        after=_in_event(fresh),
    )  # fmt: skip
    return fresh


def _in_event(budget: RepairBudget) -> dict[str, Any]:
    return {"amount": budget.amount, **as_left(budget, "begins_on", "ends_on")}


def _tidy(columns: dict[str, Any]) -> dict[str, Any]:
    return columns | {"fund": columns["fund"].strip()}


def _check(budget: RepairBudget) -> None:
    if budget.ends_on < budget.begins_on:
        raise RefusedError(gettext("The last day is before the first."))
    others = RepairBudget.objects.filter(school=budget.school, fund__iexact=budget.fund).exclude(pk=budget.pk)
    other = others.filter(Q(begins_on__lte=budget.ends_on), Q(ends_on__gte=budget.begins_on)).first()
    if other is not None:
        words = gettext("%(school)s already has a budget of this fund then: %(budget)s.")
        raise RefusedError(words % {"school": budget.school, "budget": other})
    check_row(budget)
