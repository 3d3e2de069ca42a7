"""Where a try to log in comes from, and which browsers somebody has logged in on before.

Such a browser keeps a signed cookie, one for each person who uses it. It says nothing but that: it lets nobody in, and
takes tries of its own number (core/caps.py). It holds for one person, while the password and the round of sessions are
those of that log-in, so that a new password, a deactivation and the end of all sessions void it.
"""

from __future__ import annotations

import secrets
from datetime import timedelta
from typing import Final

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import constant_time_compare, salted_hmac

from core.access import person_named, plain_username
from core.caps import Source
from core.models import User
from core.networks import network_of, plain_address

KNOWN_FOR: Final = timedelta(days=180)  # since the last log-in
SALT = "core.devices"


def keyed(what: str, text: str) -> str:
    """Return a hash that nobody makes without the server's key: what was typed as a name may be a password."""
    return salted_hmac(f"core.devices.{what}", text, algorithm="sha256").hexdigest()[:32]


def source_of(request: HttpRequest, username: str) -> Source:
    """Return whose name is tried and from where."""
    address, device = request.META.get("REMOTE_ADDR", ""), known_device(request, username)
    return Source(
        name=keyed("name", plain_username(username)),
        address=keyed("address", plain_address(address)),
        network=keyed("network", network_of(address)),
        device=keyed("device", device) if device else "",
    )


def approval_source(request: HttpRequest, asker: str, approver: str) -> Source:
    """Return who tries the password of an approver, and from where: no log-in of either is counted with it.

    Not by device: whoever logs in on one browser after another would have tries of their own on each.
    """
    name = f"{plain_username(asker)} {plain_username(approver)}"
    return source_of(request, approver)._replace(name=keyed("approval", name), device="")


def cookie_name(username: str) -> str:
    return f"device-{keyed('cookie', plain_username(username))[:16]}"


def _tie(user: User, device: str) -> str:
    return salted_hmac(SALT, f"{user.pk} {device} {user.get_session_auth_hash()}", algorithm="sha256").hexdigest()


def known_device(request: HttpRequest, username: str) -> str:
    """Return the number under which this browser is known as somebody's; "" if it is not.

    Only whoever brings a cookie that is signed has the name looked up, so that nobody learns from the time it takes
    which names exist.
    """
    kept = request.get_signed_cookie(cookie_name(username), default="", salt=SALT, max_age=KNOWN_FOR)
    device, _, tie = (kept or "").partition(".")
    user = person_named(username) if tie else None
    is_tied = user is not None and user.is_active and constant_time_compare(tie, _tie(user, device))
    return device if is_tied else ""


def keep_device(request: HttpRequest, response: HttpResponse, user: User) -> None:
    """Have the browser keep that this person logged in on it."""
    device = known_device(request, user.username) or secrets.token_hex(16)
    response.set_signed_cookie(
        cookie_name(user.username),
        f"{device}.{_tie(user, device)}",
        salt=SALT,
        max_age=KNOWN_FOR,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Strict",
    )
