"""Who may do what. Each app registers its table of permission -> roles at startup; roles are plain strings here."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any

from django.contrib.auth import get_user_model
from django.contrib.auth.backends import ModelBackend
from django.contrib.auth.hashers import make_password
from django.http import HttpRequest

if TYPE_CHECKING:
    from core.models import User

_TABLE: dict[str, frozenset[str]] = {}
_roles_of: list[Callable[[User], frozenset[str]]] = []
_reach: list[Callable[[User, str], frozenset[int] | None]] = []
_asks_second_step: list[Callable[[User], bool]] = []


def register(table: Mapping[str, Iterable[str]]) -> None:
    """Add an app's permissions; the same permission twice is a programming error."""
    for permission, roles in table.items():
        if permission in _TABLE and _TABLE[permission] != frozenset(roles):
            raise ValueError(f"{permission} is registered twice")
        _TABLE[permission] = frozenset(roles)


def register_roles(lookup: Callable[[User], frozenset[str]]) -> None:
    """Set how a user's roles are looked up (once, by the app that owns roles)."""
    _roles_of[:] = [lookup]


def register_reach(lookup: Callable[[User, str], frozenset[int] | None]) -> None:
    """Set how to find the keys of the schools where a user holds a permission (once, by the app that owns roles)."""
    _reach[:] = [lookup]


def reach_of(user: User, permission: str) -> frozenset[int] | None:
    """Return the keys of the schools where the user holds the permission; None: everywhere."""
    return _reach[0](user, permission) if _reach else frozenset()


def register_second_step(lookup: Callable[[User], bool]) -> None:
    """Set how to find out whether a user's roles ask for a second step (once, by the app that owns roles)."""
    _asks_second_step[:] = [lookup]


def asks_second_step(user: User) -> bool:
    return any(lookup(user) for lookup in _asks_second_step)


def roles_for(permission: str) -> frozenset[str]:
    """Return the roles that hold the permission; KeyError if it is unknown."""
    return _TABLE[permission]


def known_permissions() -> frozenset[str]:
    return frozenset(_TABLE)


def roles_of(user: User) -> frozenset[str]:
    """Return the roles that a user holds anywhere."""
    return _roles_of[0](user) if _roles_of else frozenset()


def has_perm(user: Any, permission: str) -> bool:
    """Return whether any of the user's roles holds the permission."""
    if not getattr(user, "is_active", False) or not _roles_of:
        return False
    return bool(roles_for(permission) & _roles_of[0](user))


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
        return {permission for permission in _TABLE if has_perm(user_obj, permission)}
