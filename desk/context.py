"""The rooms somebody may enter, and who they are, for the top of every page."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from inventory.models import StaffRole

ROOMS = (
    ("Today", "desk:today", "desk.view_today"),
    ("Instruments", "inventory:list", "inventory.view_instrument"),
    ("Bench", "repairs:jobs", "repairs.view_job"),
    ("Loans", "loans:list", "loans.view_loan"),
    ("Set-up", "inventory:settings", "inventory.manage_settings"),
)


def rooms(request: HttpRequest) -> dict[str, Any]:
    """``nav`` and ``role_line`` for base.html; nothing for the public."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {}
    return {
        "nav": [{"label": label, "url": reverse(name)} for label, name, need in ROOMS if user.has_perm(need)],
        "role_line": role_line(user),
    }


def role_line(user: Any) -> str:
    """Say "Cedar Fork Middle · director", or the district for roles without a school. Read once per request."""
    cached: str | None = getattr(user, "_role_line", None)
    if cached is None:
        role = StaffRole.objects.filter(user_id=user.pk).select_related("school").order_by("pk").first()
        where = role.school.name if role and role.school else "District"
        cached = f"{where} · {role.get_role_display().lower()}" if role else str(user)
        user._role_line = cached  # a cache on the request's user
    return cached
