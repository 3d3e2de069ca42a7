"""Who may do what. Each app registers its table of permission -> roles at startup; roles are plain strings here."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from django.contrib.auth import get_user_model
from django.contrib.auth.backends import ModelBackend
from django.contrib.auth.hashers import make_password
from django.http import HttpRequest

from core.hooks import Hook

if TYPE_CHECKING:
    from core.models import User

TABLE: dict[str, frozenset[str]] = {}
# Set by the app that owns roles.
roles_of: Hook[[User], frozenset[str]] = Hook()  # those that a user holds anywhere
reach_of: Hook[[User, str], frozenset[int] | None] = Hook()  # keys of the schools of a permission; None: everywhere
asks_second_step: Hook[[User], bool] = Hook()  # whether one of the user's roles asks for it


def register(table: Mapping[str, Iterable[str]]) -> None:
    """Add an app's permissions; the same permission twice is a programming error."""
    for permission, roles in table.items():
        if permission in TABLE and TABLE[permission] != frozenset(roles):
            raise ValueError(f"{permission} is registered twice")
        TABLE[permission] = frozenset(roles)


def roles_for(permission: str) -> frozenset[str]:
    """Return the roles that hold the permission; KeyError if it is unknown."""
    return TABLE[permission]


def has_perm(user: Any, permission: str) -> bool:
    """Return whether any of the user's roles holds the permission."""
    return getattr(user, "is_active", False) and not roles_for(permission).isdisjoint(roles_of(user))


def plain_username(username: str) -> str:
    """Return the user name under which tries to log in are counted: "Tech" and " TECH" are the same person."""
    return unicodedata.normalize("NFKC", username).strip().casefold()


def person_named(username: str) -> Any:
    """Return who has this user name, in any case; None if nobody."""
    return get_user_model()._default_manager.filter(username__iexact=username).first()


class RoleBackend(ModelBackend):
    """Django's password check; permissions come from roles alone."""

    def authenticate(
        self, request: HttpRequest | None, username: str | None = None, password: str | None = None, **kwargs: Any
    ) -> Any:
        """Return the person if name and password are right. A name that does not exist takes as long as a wrong one."""
        if username is None or password is None:
            return None
        known = person_named(username)
        nobody = get_user_model()(password=make_password(None))  # no password fits it, and it takes as long to find out
        is_right = (known or nobody).check_password(password)
        return known if known and is_right and self.user_can_authenticate(known) else None

    def has_perm(self, user_obj: Any, perm: str, obj: object | None = None) -> bool:
        return has_perm(user_obj, perm)

    def get_all_permissions(self, user_obj: Any, obj: object | None = None) -> set[str]:
        return {permission for permission in TABLE if has_perm(user_obj, permission)}
