"""From the right password to the first page, and whether somebody was asked for it a moment ago."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth import login, update_session_auth_hash, user_login_failed
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from core.caps import Source
from core.devices import keep_device, source_of
from core.models import User
from core.responses import is_ours
from core.second_steps import has_second_step
from core.services.accounts import WrongPasswordError
from core.services.tries import clear_tries, give_back, take_try
from core.views.base import StaffRequest

BACKEND = "core.access.RoleBackend"
CONFIRMED = "confirmed_at"
CONFIRMED_FOR_S = 15 * 60
PENDING = "pending_log_in"
UNLINKED = "unlinked_account"
UNLINKED_FOR_S = 15 * 60
PENDING_FOR_S = 10 * 60
PENDING_TRIES = 5


def now_s() -> int:
    """Return this moment as a session keeps it."""
    return int(timezone.now().timestamp())


def is_recent(at: int, *, seconds: int) -> bool:
    """Whether a kept moment is less than so many seconds ago, and not still to come: a clock may be set back."""
    return 0 <= timezone.now().timestamp() - at < seconds


def enter(request: HttpRequest, user: Any, *, onward: str) -> HttpResponse:
    """Send whoever gave the right password on: to the second step, or in."""
    if not has_second_step(user):
        return finish(request, user, onward=onward)
    request.session.cycle_key()
    request.session[PENDING] = {
        "user": user.pk,
        "tied": user.get_session_auth_hash(),
        "at": now_s(),
        "onward": onward,
        "tries": 0,
    }
    return redirect("core:second-step")


def pending(request: HttpRequest) -> dict[str, Any] | None:
    """Return who gave the right password a moment ago and has the second step to do; None if nobody."""
    kept: dict[str, Any] | None = request.session.get(PENDING)
    if kept is None:
        return None
    user = User.objects.filter(pk=kept["user"], is_active=True).first()
    is_good = is_recent(kept["at"], seconds=PENDING_FOR_S) and kept["tries"] < PENDING_TRIES
    if not is_good or user is None or user.get_session_auth_hash() != kept["tied"]:
        del request.session[PENDING]
        return None
    return kept | {"user": user}


def count_wrong_step(request: HttpRequest, user: User) -> None:
    """Count a wrong code for this log-in: five, and the password is asked for again."""
    request.session[PENDING] |= {"tries": request.session[PENDING]["tries"] + 1}
    say_failed(request, user)


def say_failed(request: HttpRequest, user: User) -> None:
    """Tell whoever listens that a log-in failed, as Django does of a wrong password there."""
    user_login_failed.send(sender=__name__, credentials={"username": user.username}, request=request)


@contextmanager
def counted(request: HttpRequest, user: User, *, source: Source | None = None) -> Iterator[None]:
    """Count a wrong password of somebody logged in like one at the log-in: a WrongPasswordError, nothing else.

    ``source`` is whose try it is; None: that person's own.
    """
    source = source or source_of(request, user.username)
    taken = take_try(source=source, at=timezone.now())
    try:
        yield
    except WrongPasswordError:
        say_failed(request, user)
        raise
    except Exception:
        give_back(taken=taken)
        raise
    clear_tries(source=source)


def finish(request: HttpRequest, user: User, *, onward: str) -> HttpResponse:
    """Log the person in, and send them on."""
    request.session.pop(PENDING, None)
    login(request, user, backend=BACKEND)
    clear_tries(source=source_of(request, user.username))
    note_confirmed(request)
    response = redirect("core:link-sign-on") if unlinked_account(request) else redirect(onward)
    keep_device(request, response, user)
    return response


def unlinked_account(request: HttpRequest) -> dict[str, Any] | None:
    """Return the account that signed on here a moment ago and belongs to nobody yet."""
    kept: dict[str, Any] | None = request.session.get(UNLINKED)
    return kept if kept is not None and is_recent(kept["at"], seconds=UNLINKED_FOR_S) else None


def note_confirmed(request: HttpRequest) -> None:
    request.session[CONFIRMED] = now_s()


def is_confirmed(request: HttpRequest) -> bool:
    """Whether whoever is at the keyboard logged in, or gave the password again, a moment ago."""
    return is_recent(request.session.get(CONFIRMED, 0), seconds=CONFIRMED_FOR_S)


def ask_again(onward: str) -> HttpResponse:
    """Lead to the page that asks for the password once more, and from there onward."""
    return redirect(f"{reverse('core:confirm')}?{urlencode({'next': onward})}")


def onward_of(request: HttpRequest, *, otherwise: str) -> str:
    """Return the page of ours that the address asks to go on to; the page named ``otherwise`` if it asks for none."""
    wanted = request.GET.get("next", "")
    return wanted if is_ours(request, wanted) else reverse(otherwise)


def keep_session(request: StaffRequest) -> None:
    """Keep this browser logged in after a change to one's own account, which logs a person out everywhere."""
    fresh = User.objects.get(pk=request.user.pk)
    if fresh.session_round != request.user.session_round:
        update_session_auth_hash(request, fresh)


def keep_to_show(request: HttpRequest, name: str, secret: Any) -> None:
    """Keep what may be shown once for the page that comes next."""
    request.session[f"once {name}"] = secret


def show_once(request: HttpRequest, name: str) -> Any:
    """Return what was kept and forget it; None if it was shown already."""
    return request.session.pop(f"once {name}", None)
