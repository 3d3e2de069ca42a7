"""Who approves what somebody asked for."""

from __future__ import annotations

from typing import Any

from django.db.models import Q

from core.access import roles_for
from inventory.catalog.load import catalog
from inventory.models import StaffRole


def is_barred(user: Any, *, asker_id: int) -> bool:
    """Whether it is the user's own request, and the district has somebody else approve it."""
    return bool(catalog().settings["approver_is_another"]) and user.pk == asker_id


def has_other_approver(user: Any, *, school_id: int) -> bool:
    """Whether anybody else may approve costs at the school. One query."""
    held = StaffRole.objects.filter(role__in=roles_for("repairs.approve_cost"), user__is_active=True)
    return held.filter(Q(school=None) | Q(school=school_id)).exclude(user=user).exists()
