"""From the right password to the first page, and whether somebody was asked for it a moment ago."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.contrib.auth import login, update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from core.models import User
from core.views.base import StaffRequest

BACKEND = "core.access.RoleBackend"
CONFIRMED = "confirmed_at"
CONFIRMED_FOR_S = 15 * 60


def enter(request: HttpRequest, user: Any, *, onward: str) -> HttpResponse:
    """Lead on whoever gave the right password."""
    return finish(request, user, onward=onward)


def finish(request: HttpRequest, user: User, *, onward: str) -> HttpResponse:
    """Begin the session and go on."""
    login(request, user, backend=BACKEND)
    note_confirmed(request)
    return redirect(onward)


def note_confirmed(request: HttpRequest) -> None:
    request.session[CONFIRMED] = int(timezone.now().timestamp())


def is_confirmed(request: HttpRequest) -> bool:
    """Whether the person at the keys showed a moment ago that they are who is logged in."""
    since = timezone.now().timestamp() - int(request.session.get(CONFIRMED, 0))
    return 0 <= since < CONFIRMED_FOR_S


def ask_again(onward: str) -> HttpResponse:
    """Lead to the page that asks for the password once more, and from there onward."""
    return redirect(f"{reverse('core:confirm')}?{urlencode({'next': onward})}")


def keep_session(request: StaffRequest) -> None:
    """Let this session go on where an act upon oneself ended all of them."""
    fresh = User.objects.get(pk=request.user.pk)
    if fresh.session_round != request.user.session_round:
        update_session_auth_hash(request, fresh)


def keep_to_show(request: HttpRequest, name: str, secret: Any) -> None:
    """Keep what may be shown once for the page that comes next."""
    request.session[f"once {name}"] = secret


def show_once(request: HttpRequest, name: str) -> Any:
    """Return what was kept and forget it; None if it was shown already."""
    return request.session.pop(f"once {name}", None)
