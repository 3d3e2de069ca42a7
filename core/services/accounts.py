"""A person's password, the one-time links to set one, and the end of sessions."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db.models import F
from django.utils.translation import gettext

from core.acts import service
from core.events import record_event
from core.exceptions import RefusedError
from core.models import OneTimeLink, User

LINK_GOOD_FOR = timedelta(hours=24)  # made by an administrator, who hands it over
MAIL_GOOD_FOR = timedelta(hours=1)
MAIL_PAUSE = timedelta(minutes=5)  # between two mails to one person, however often they are asked for


class WrongPasswordError(RefusedError):
    """The old password was asked for and is another one."""

    def __init__(self) -> None:
        super().__init__(gettext("That is not your current password."))


class LinkGoneError(RefusedError):
    """The link was used, withdrawn, never made, or has expired."""

    def __init__(self) -> None:
        super().__init__(gettext("This link has been used or has expired. Ask for a new one."))


def locked(user: User) -> User:
    """Return the person as they are now, locked until the act ends; also of the lazy user of a request."""
    return User.objects.select_for_update(of=("self",), no_key=True).get(pk=user.pk)


def check_password_rules(*, password: str, user: User | None = None) -> None:
    """Raise RefusedError with everything that is wrong with the password."""
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise RefusedError(" ".join(error.messages)) from None


@service
def choose_password(*, user: User, password: str, old: str | None, actor: User | None, at: datetime) -> User:
    """Set a password of one's own; every session ends that the caller does not keep.

    ``old`` is asked for, except where the first password was just typed (None).
    """
    fresh = locked(user)
    if old is None and not fresh.password_is_first:
        raise RefusedError(gettext("Enter your current password."))
    if old is not None and not fresh.check_password(old):
        raise WrongPasswordError
    return _save_password(fresh, password=password, by="self")


@service
def set_first_password(*, user: User, password: str, actor: User | None, at: datetime) -> User:
    """Set somebody else's password, for their next log-in only; every session of theirs ends."""
    fresh = locked(user)
    return _save_password(fresh, password=password, by="administrator")


@service
def recover_password(*, user: User, password: str, actor: User | None, at: datetime) -> User:
    """Set the password of somebody who works on the server itself, where the old one is lost."""
    return _save_password(locked(user), password=password, by="command")


def _save_password(user: User, *, password: str, by: str) -> User:
    check_password_rules(password=password, user=user)
    if by != "administrator" and user.has_usable_password() and user.check_password(password):
        raise RefusedError(gettext("That is your current password. Choose another."))
    user.set_password(password)
    user.password_is_first = by == "administrator"
    user.save(update_fields=["password", "password_is_first"])
    OneTimeLink.objects.filter(user=user).delete()
    if by == "administrator":
        record_event(act="password_set", subject=user)
    else:
        record_event(act="password_changed", subject=user, after={"by": by})
    return user


@service
def end_sessions(*, user: User, actor: User | None, at: datetime) -> User:
    """End every session of somebody; the act that calls this says why."""
    User.objects.filter(pk=user.pk).update(session_round=F("session_round") + 1)
    return User.objects.get(pk=user.pk)


def digest_of(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


@service
def make_link(*, user: User, actor: User | None, at: datetime) -> str:
    """Make a link to set a new password, to be handed over, and return the token in it; an earlier one is withdrawn.

    The password that somebody has goes on until the link is used.
    """
    fresh = locked(user)
    if not fresh.is_active:
        raise RefusedError(gettext("Reactivate this person first: a deactivated person cannot log in."))
    token = new_token()
    _keep_link(fresh, token=token, at=at, made_by=actor, good_for=LINK_GOOD_FOR)
    return token


def was_just_mailed(user: User, *, at: datetime) -> bool:
    """Whether a link was mailed to the person a moment ago: another one is not, however often it is asked for."""
    return OneTimeLink.objects.filter(user=user, made_by=None, made_at__gt=at - MAIL_PAUSE).exists()


@service
def keep_mailed_link(*, user: User, token: str, actor: None, at: datetime) -> None:
    """Make the link of a token that was mailed to the person themselves good. One handed over stays good."""
    _keep_link(locked(user), token=token, at=at, made_by=None, good_for=MAIL_GOOD_FOR)


def new_token() -> str:
    return secrets.token_urlsafe(32)


def _keep_link(user: User, *, token: str, at: datetime, made_by: User | None, good_for: timedelta) -> None:
    OneTimeLink.objects.filter(user=user, made_by__isnull=made_by is None).delete()
    OneTimeLink.objects.create(
        user=user, token_hash=digest_of(token), made_at=at, made_by=made_by, expires_at=at + good_for
    )
    after = {"hours": good_for // timedelta(hours=1), "by": "administrator" if made_by else "mail"}
    record_event(act="reset_link_made", subject=user, after=after)


def live_link(token: str, *, at: datetime) -> OneTimeLink | None:
    """Return the link of a token if it can be used now."""
    rows = OneTimeLink.objects.select_related("user").filter(user__is_active=True, expires_at__gt=at)
    return rows.filter(token_hash=digest_of(token)).first()


@service
def use_link(*, token: str, password: str, actor: None, at: datetime) -> User:
    """Set a new password by a link, which is used up; every session of the person ends."""
    link = live_link(token, at=at)
    if link is None:
        raise LinkGoneError
    fresh = locked(link.user)
    if not OneTimeLink.objects.filter(pk=link.pk).exists():  # somebody else was faster, and let the lock go
        raise LinkGoneError
    return _save_password(fresh, password=password, by="link")
