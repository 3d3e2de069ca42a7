"""The rooms somebody may enter, and who they are, for the top of every page."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from inventory.access import roles_held

ROOMS = (
    ("Today", "desk:today", "desk.view_today"),
    ("Instruments", "inventory:list", "inventory.view_instrument"),
    ("Bench", "repairs:jobs", "repairs.view_job"),
    ("Loans", "loans:list", "loans.view_loan"),
    ("Set-up", "inventory:settings", "inventory.manage_settings"),
)
SET_UP = "inventory:settings"
SET_UP_PAGES = (SET_UP, "inventory:schools", "inventory:people")


def rooms(request: HttpRequest) -> dict[str, Any]:
    """``nav`` and ``role_line`` for base.html; nothing for the public."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {}
    inner = inner_room(request.path)
    return {
        "nav": [
            {"label": label, "url": reverse(name), "inside": name == inner, "elsewhere": inner not in {"", name}}
            for label, name, need in ROOMS
            if user.has_perm(need)
        ],
        "role_line": role_line(user),
    }


def inner_room(path: str) -> str:
    """The room of a page whose address lies below another room's: set-up below the instruments."""
    return SET_UP if any(path.startswith(reverse(name)) for name in SET_UP_PAGES) else ""


def role_line(user: Any) -> str:
    """Say "Cedar Fork Middle · director", or the district for roles without a school. Costs no query of its own."""
    held = roles_held(user)
    if not held:
        return str(user)
    where = held[0].school.name if held[0].school else "District"
    return f"{where} · {held[0].get_role_display().lower()}"
