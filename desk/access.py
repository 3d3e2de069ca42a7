"""What each role may do on the pages that join the apps below."""

from __future__ import annotations

from inventory.models import Role

D, T, A, S = Role.DIRECTOR, Role.TECH, Role.AUDITOR, Role.ADMINISTRATOR

PERMISSIONS: dict[str, tuple[str, ...]] = {
    "desk.view_today": (D, T, A, S),
    "desk.scan": (D, T, A, S),
    "desk.view_instrument": (D, T, A, S),
    "desk.take_back": (D,),
    "desk.lend": (D,),
}
