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
    "repairs.view_stock": (D, T, A, S),
    "repairs.change_stock": (D, T),
    "repairs.take_part": (D, T),
    "repairs.view_shop": (D, T, A, S),
    "repairs.change_shop": (D, T, S),
    "repairs.send_out": (D, T),
    "repairs.view_budget": (D, A, S),
    "repairs.change_budget": (D, S),
    "repairs.view_worth": (D, T, A, S),
    "repairs.decide_worth": (D, T),
    "repairs.view_care": (D, T, A, S),
    "repairs.record_care": (D, T),
}
