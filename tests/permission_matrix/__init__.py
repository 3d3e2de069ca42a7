"""One row for every URL: who may open it. ``tests/test_permissions.py`` compares it with the resolver."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from core.access import roles_for
from inventory.models import Role, School


def no_args(school: School) -> tuple[Any, ...]:
    return ()


@dataclass(frozen=True)
class Row:
    """``permission`` None: public; "any": everybody who is logged in.

    ``make`` builds the row in the school and returns the URL's arguments. ``own`` is False where the URL shows no row of
    one school. ``method`` is what the page answers to.
    """

    permission: str | None
    make: Callable[[School], tuple[Any, ...]] = no_args
    method: str = "get"
    own: bool = True


def holders_of(permission: str) -> frozenset[str]:
    """The roles that hold the permission; all of them for what everybody has who is logged in."""
    return frozenset(Role.values) if permission == "any" else roles_for(permission)


def all_rows() -> dict[str, Row]:
    """The whole matrix; two apps naming the same URL is a mistake."""
    from tests.permission_matrix import core, desk, inventory, loans, repairs

    rows: dict[str, Row] = {}
    for module in (core, desk, inventory, loans, repairs):
        clash = rows.keys() & module.ROWS.keys()
        if clash:
            raise AssertionError(f"named twice: {clash}")
        rows |= module.ROWS
    return rows
