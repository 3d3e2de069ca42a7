"""What a school may spend on repairs: its budgets with what is committed, spent and left."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db.models import Q

from repairs.models import RepairBudget, RepairBudgetQuerySet


def budgets_of(user: Any) -> RepairBudgetQuerySet:
    """Return every budget the user may see with its sums, by school, the latest first."""
    return RepairBudget.objects.visible_to(user).with_sums().select_related("school")


def budgets_to_choose(school_id: int, *, today: date, now: int | None = None) -> RepairBudgetQuerySet:
    """Return what can pay today for what a school orders, and the one that pays ``now``."""
    rows = RepairBudget.objects.filter(school=school_id)
    return rows.filter(Q(begins_on__lte=today, ends_on__gte=today) | Q(pk=now)).with_sums()


def usual_budget(school_id: int, *, today: date) -> RepairBudget | None:
    """Return the school's only budget of today; None if it has none, or several to choose from. One query."""
    found = list(RepairBudget.objects.filter(school=school_id).on(today)[:2])
    return found[0] if len(found) == 1 else None
