"""Addresses of calendars: made, replaced, revoked by whom they are for."""

from __future__ import annotations

from datetime import datetime

from django.core.cache import cache
from django.utils.translation import gettext

from core.acts import lock_row, service
from core.events import record_event
from core.exceptions import RefusedError
from core.models import User
from core.services.accounts import digest_of, locked, new_token
from core.traces import as_left
from inventory.access import has_perm_at_school
from inventory.models import CalendarLink, School

AN_HOUR_S = 3600
READS_PER_HOUR = 30  # of one address: programs ask every quarter of an hour at the most


@service
def make_calendar_link(*, school: School, actor: User, at: datetime) -> str:
    """Make an address of the school's calendar for the actor, and return the token in it; the one before ends.

    The token is told this once: only its hash is kept.
    """
    fresh = locked(actor)
    if not has_perm_at_school(fresh, "inventory.view_instrument", school.pk):
        raise RefusedError(gettext("You do not work at this school."))
    for link in CalendarLink.objects.filter(user=fresh, school=school, revoked_at=None):
        _revoke(link, at=at)
    token = new_token()
    link = CalendarLink.objects.create(user=fresh, school=school, token_hash=digest_of(token), made_at=at)
    record_event(act="calendar_link_made", subject=link, tenant=school.pk, after=as_left(link, "user_id", "school_id"))
    return token


@service
def revoke_calendar_link(*, link: CalendarLink, actor: User, at: datetime) -> None:
    """End an address. Ending it again changes nothing."""
    fresh = lock_row(link)
    if fresh.revoked_at is None:
        _revoke(fresh, at=at)


def _revoke(link: CalendarLink, *, at: datetime) -> None:
    link.revoked_at = at
    link.save(update_fields=["revoked_at"])
    record_event(act="calendar_link_revoked", subject=link, tenant=link.school_id)


def calendar_link_of(token: str) -> CalendarLink | None:
    """Return the address that a token opens, or None where it opens nothing."""
    rows = CalendarLink.objects.live().select_related("user", "school")
    return rows.filter(token_hash=digest_of(token)).first()


def may_read_calendar(link: CalendarLink) -> bool:
    """Count a reading; False where there were too many within the hour.

    Counted by each process of the server alone, as a reading is to write nothing: so many processes let so many times
    as many through.
    """
    key = f"calendar:{link.token_hash}"
    cache.add(key, 0, timeout=AN_HOUR_S)
    try:
        return cache.incr(key) <= READS_PER_HOUR
    except ValueError:  # its hour ended in between
        return True
