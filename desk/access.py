"""What each role may do on the pages that join the apps below."""

from __future__ import annotations

from typing import Any

from core.models import Event
from inventory.access import has_perm_at_school
from inventory.models import Role

D, T, A, S = Role.DIRECTOR, Role.TECH, Role.AUDITOR, Role.ADMINISTRATOR

PERMISSIONS: dict[str, tuple[str, ...]] = {
    "desk.view_today": (D, T, A, S),
    "desk.scan": (D, T, A, S),
    "desk.search": (D, T, A, S),
    "desk.view_instrument": (D, T, A, S),
    "desk.view_value": (D, A, S),
    "desk.view_log": (A, S),  # all entries, exceptions, and what is checked and archived of them
    "desk.take_back": (D,),
    "desk.lend": (D,),
    "desk.plan_season": (D, S),  # and ask for what it buys
    "desk.begin_season": (D,),  # open the jobs of its repairs
    "desk.strike_own_event": (D, T, S),  # say of what one did oneself that it was entered in error
    "desk.strike_event": (D, S),  # of what anybody did
}


def may_strike(user: Any, event: Event, *, school: int) -> bool:
    """Whether the user may say of the event, of that school, that it was entered in error."""
    is_own = event.actor_id == user.pk and has_perm_at_school(user, "desk.strike_own_event", school)
    return is_own or has_perm_at_school(user, "desk.strike_event", school)
