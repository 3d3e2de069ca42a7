"""Who may approve a cost or a decision."""

from __future__ import annotations

from django.utils.translation import gettext

from core.models import User
from inventory.access import has_perm_at_school, is_barred
from repairs.exceptions import ApprovalNeededError


def check_may_approve(*, actor: User, school_id: int, asker_id: int | None = None) -> None:
    """Refuse who may not approve at the school, and where the district says so, whoever asked for it."""
    if not has_perm_at_school(actor, "repairs.approve_cost", school_id):
        raise ApprovalNeededError(gettext("Only a director or an administrator can approve this."))
    if is_barred(actor, asker_id=asker_id):
        raise ApprovalNeededError(gettext("You asked for it. Another director or an administrator approves it."))
