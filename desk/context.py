"""The navigation and the user's role, for the top of every page."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.urls import reverse, reverse_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from desk.pages.guide import help_for
from inventory.models import roles_held

ROOMS = (
    (gettext_lazy("Today"), "desk:today", "desk.view_today"),
    (gettext_lazy("Instruments"), "inventory:list", "inventory.view_instrument"),
    (gettext_lazy("Bench"), "repairs:jobs", "repairs.view_job"),
    (gettext_lazy("Loans"), "loans:list", "loans.view_loan"),
    (gettext_lazy("Setup"), "inventory:settings", "inventory.manage_settings"),
)
SET_UP = "inventory:settings"
INNER_ROOMS = (
    (
        SET_UP,
        (
            reverse_lazy(SET_UP),
            reverse_lazy("inventory:schools"),
            reverse_lazy("inventory:people"),
            reverse_lazy("inventory:figures"),
            reverse_lazy("inventory:integrations"),
            "/first-steps/",
        ),
    ),
    ("repairs:jobs", (reverse_lazy("desk:bench-day"),)),
    (
        "loans:list",
        (
            reverse_lazy("desk:lend"),
            "/take-back/",
            reverse_lazy("desk:give-back"),
            "/suits/",
            "/sign/",
            "/P/",
            "/hand-out/",
            "/damage/",
            "/losses/",
            "/picked/due/",
            "/picked/links/",
            "/season/",
            "/swap/",
            "/to-inspect/",
        ),
    ),
    (
        "inventory:list",
        (
            "/i/",
            "/condition/",
            "/counts/",
            "/fit/",
            "/kind/",
            "/leave/",
            "/lists/",
            "/out-of-fleet/",
            "/picked/",  # but for those of loans, above
            "/property/",
            "/samples/",
            "/transfers/",
            "/value/",
        ),
    ),
)


def rooms(request: HttpRequest) -> dict[str, Any]:
    """Return ``nav``, ``role_line`` and ``help`` for base.html; nothing for the public."""
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
        "offline_url": reverse("desk:offline") if user.has_perm("desk.scan") else "",
        "search_url": reverse("desk:search") if user.has_perm("desk.search") else "",
        "help": help_for(request.resolver_match.view_name if request.resolver_match else ""),
    }


def inner_room(path: str) -> str:
    """Return the section of a page whose address is not below its section's: an instrument's page, lending, set-up."""
    return next((room for room, starts in INNER_ROOMS if any(path.startswith(str(start)) for start in starts)), "")


def role_line(user: Any) -> str:
    """Return "Cedar Fork Middle · director", or "District · tech" for a role in the whole district. No extra query."""
    held = roles_held(user)
    if not held:
        return str(user)
    role = str(held[0].get_role_display())
    if held[0].school is None:
        return role if role.startswith("District") else _("District · %(role)s") % {"role": role.lower()}
    return f"{held[0].school.name} · {role.lower()}"
