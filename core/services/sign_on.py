"""Accounts elsewhere, linked to people who were entered here before. No account is ever made of one."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext

from core.acts import service
from core.events import record_event
from core.exceptions import RefusedError
from core.models import SignOn, User
from core.services.accounts import end_sessions, locked


@service
def link_sign_on(*, user: User, issuer: str, subject: str, actor: User | None, at: datetime) -> SignOn:
    """Link an account elsewhere to a person, who gave the password here with it. Their sessions end: it is a way in."""
    person = locked(user)
    known = SignOn.objects.filter(issuer=issuer, subject=subject).first()
    if known is not None and known.user_id == person.pk:
        return known
    if known is not None:
        raise RefusedError(gettext("That account is linked to somebody else here. Ask an administrator."))
    if SignOn.objects.filter(user=person).exists():
        raise RefusedError(gettext("Your log-in has another account linked. Remove that one first under Your log-in."))
    link = SignOn.objects.create(user=person, issuer=issuer, subject=subject, linked_at=at)
    record_event(act="sign_on_linked", subject=person, after={"issuer": issuer})
    end_sessions(user=person, actor=actor, at=at)
    return link


@service
def unlink_sign_on(*, user: User, actor: User | None, at: datetime) -> bool:
    """Remove the link of a person, and end their sessions, which may be of that account; whether there was one."""
    link = SignOn.objects.filter(user=locked(user)).first()
    if link is None:
        return False
    record_event(act="sign_on_unlinked", subject=link.user, before={"issuer": link.issuer})
    link.delete()
    end_sessions(user=link.user, actor=actor, at=at)
    return True


def person_signed_on(*, issuer: str, subject: str) -> User | None:
    """Return the active person whose account it is."""
    link = SignOn.objects.select_related("user").filter(issuer=issuer, subject=subject, user__is_active=True).first()
    return link.user if link else None
