"""Roles, what each may do with instruments, and which schools somebody sees."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet

from core.access import has_perm, roles_for
from core.models import User
from inventory.catalog.load import catalog
from inventory.models.places import District, Role, roles_held

D, T, A, S = Role.DIRECTOR, Role.TECH, Role.AUDITOR, Role.ADMINISTRATOR

PERMISSIONS: dict[str, tuple[str, ...]] = {
    "inventory.view_instrument": (D, T, A, S),
    "inventory.add_instrument": (D, T, S),
    "inventory.change_instrument": (D, S),
    "inventory.import_instruments": (D, S),
    "inventory.dispose": (D, S),  # record how it left, and that it is back
    "inventory.approve_disposal": (D, S),  # whom one may name as having approved it
    "inventory.approve_large_disposal": (S,),  # above the district's limit
    "inventory.view_paper": (D, A, S),  # a bill of sale, a police report
    "inventory.transfer_instrument": (D, S),  # to another school, and agree to what comes from one
    "inventory.print_labels": (D, T, S),
    "inventory.manage_tags": (D, T, S),
    "inventory.inspect_instrument": (D, T),
    "inventory.play_test_instrument": (D, T),
    "inventory.clean_instrument": (D, T),
    "inventory.move_instrument": (D, T),
    "inventory.handle_report": (D, T),
    "inventory.confirm_chart": (S,),  # for the whole district
    "inventory.open_gift_record": (D, T, A, S),  # who may not see a donor writes one where none is written yet
    "inventory.view_lock": (D,),  # the combination, for those who lend
    "inventory.view_donor": (D, A, S),
    "inventory.change_donor": (D, S),
    "inventory.view_purchase": (D, S),  # what a school asked to buy
    "inventory.view_sample": (A, S),  # not those whose records are examined: they would know which
    "inventory.draw_sample": (A,),
    "inventory.examine_sample": (A,),
    "inventory.view_events": (D, T, A, S),
    "inventory.view_count": (D, T, A, S),
    "inventory.count_instruments": (D, T, A),  # record what is seen, and sign as the second person
    "inventory.manage_count": (D, A),  # open, end, settle, sign and cancel one
    "inventory.manage_people": (S,),
    "inventory.manage_settings": (S,),
    "inventory.manage_integrations": (S,),
}


def roles_of(user: User) -> frozenset[str]:
    """The user's roles anywhere."""
    return frozenset(held.role for held in roles_held(user))


def asks_second_step(user: User) -> bool:
    """Whether the district asks for a second step of the log-in for one of the user's roles."""
    roles = District.objects.values_list("second_step_roles", flat=True).first()
    return bool(roles) and not roles_of(user).isdisjoint(roles or ())


def has_perm_at_school(user: Any, permission: str, school_id: int) -> bool:
    """Whether one of the user's roles holds the permission at this very school. Costs no query once roles are read.

    ``has_perm`` answers for anywhere: right for a menu, wrong for what is shown or decided of one school.
    """
    if not has_perm(user, permission):
        return False
    roles = roles_for(permission)
    return any(held.role in roles and held.school_id in {None, school_id} for held in roles_held(user))


def people_who_may(permission: str, *, school_id: int) -> QuerySet[User]:
    """Return who holds the permission at the school, or in the whole district, and may still log in."""
    at_school = Q(staff_roles__school=None) | Q(staff_roles__school=school_id)
    rows = User.objects.filter(at_school, is_active=True, staff_roles__role__in=roles_for(permission))
    return rows.order_by("name", "pk").distinct()


def is_barred(user: Any, *, asker_id: int | None) -> bool:
    """Whether it is the user's own request, and the district has somebody else approve it."""
    return bool(catalog().settings["approver_is_another"]) and user.pk == asker_id
