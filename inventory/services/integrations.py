"""Tokens of other programs: made and revoked by an administrator, and what they read noted once a day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from django.utils.timezone import localdate
from django.utils.translation import gettext

from core.access import has_perm
from core.acts import lock_row, service
from core.events import record_event
from core.exceptions import RefusedError
from core.models import User
from core.services.accounts import digest_of, new_token
from core.traces import as_left
from inventory.models import Integration, School, Scope

MANAGE = "inventory.manage_integrations"
COLUMNS = ("school_id", "scopes", "expires_on", "made_by_id")


@service
def make_integration(
    *, name: str, school: School | None, scopes: Sequence[str], expires_on: date, actor: User, at: datetime
) -> str:
    """Let another program read these scopes, of one school or of all, and return its token.

    The token is shown this once: only its hash is kept. One of the same name before it ends. RefusedError for a day
    that is over, or nothing to read.
    """
    if expires_on < localdate(at):
        raise RefusedError(gettext("That day is over."))
    known = [scope.value for scope in Scope if scope in scopes]
    if not known:
        raise RefusedError(gettext("Choose what it may read."))
    for before in Integration.objects.filter(name__iexact=name, revoked_at=None):
        _revoke(before, at=at)
    token = new_token()
    integration = Integration.objects.create(
        name=name,
        school=school,
        scopes=known,
        token_hash=digest_of(token),
        made_at=at,
        made_by=actor,
        expires_on=expires_on,
    )
    record_event(
        act="integration_made",
        subject=integration,
        tenant=integration.school_id,
        after=as_left(integration, *COLUMNS),
    )
    return token


@service
def revoke_integration(*, integration: Integration, actor: User, at: datetime) -> None:
    """End a token. Ending it again changes nothing."""
    fresh = lock_row(integration)
    if fresh.revoked_at is None:
        _revoke(fresh, at=at)


def _revoke(integration: Integration, *, at: datetime) -> None:
    integration.revoked_at = at
    integration.save(update_fields=["revoked_at"])
    record_event(act="integration_revoked", subject=integration, tenant=integration.school_id)


@service
def note_reading(*, integration: Integration, actor: None = None, at: datetime) -> None:
    """Log that the program read today, once a day."""
    fresh = lock_row(integration)
    if fresh.last_read_on != localdate(at):
        fresh.last_read_on = localdate(at)
        fresh.save(update_fields=["last_read_on"])
        record_event(
            act="integration_read", subject=fresh, tenant=fresh.school_id, after={"on": fresh.last_read_on.isoformat()}
        )


def integration_of(token: str, *, today: date) -> Integration | None:
    """Return the program whose token this is, or None where it opens nothing, or whoever made it may no longer."""
    rows = Integration.objects.live(today=today).select_related("made_by")
    found = rows.filter(token_hash=digest_of(token)).first()
    return found if found is not None and maker_may(found) else None


def maker_may(integration: Integration) -> bool:
    """Whether whoever made the token may still make one: a closed account, or a role that ended, stops its tokens."""
    return has_perm(integration.made_by, MANAGE)
