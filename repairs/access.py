"""What each role may do at the bench."""

from __future__ import annotations

from inventory.models import Role

D, T, A, S = Role.DIRECTOR, Role.TECH, Role.AUDITOR, Role.ADMINISTRATOR

PERMISSIONS: dict[str, tuple[str, ...]] = {
    "repairs.view_job": (D, T, A, S),
    "repairs.open_job": (D, T),
    "repairs.do_step": (D, T),
    "repairs.close_job": (D, T),
    "repairs.view_bench": (D, T, A, S),
    "repairs.change_bench": (T, S),
    "repairs.approve_cost": (D, S),
}
