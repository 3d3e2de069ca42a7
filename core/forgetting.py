"""What is kept for a time: wrong tries to log in, and words that were searched for.

Old rows are deleted in the nightly run, words by the worker.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, Final

from django.apps import apps
from django.contrib.sessions.models import Session

TRIES_KEPT_FOR: Final = timedelta(days=2)  # no cap looks back further than a day (core/caps.py)

SEARCHES: Final = "searches"  # in a session: key -> [words, when they were typed], the newest last
SEARCHES_KEPT_FOR: Final = timedelta(minutes=30)

# Model, and its column that says how old a row is. What counts tries belongs here, whoever counts.
COUNTED: dict[str, str] = {
    "core.LogInTry": "at",
}
# These say themselves until when they hold.
EXPIRING: dict[str, str] = {"core.OneTimeLink": "expires_at"}


def forget_tries(*, at: datetime) -> int:
    """Delete tries to log in that are long past, and one-time links that nobody used. Returns how many rows went."""
    bounds = [(COUNTED, at - TRIES_KEPT_FOR), (EXPIRING, at)]
    return sum(
        apps.get_model(model)._base_manager.filter(**{f"{column}__lt": bound}).delete()[0]
        for columns, bound in bounds
        for model, column in columns.items()
    )


def searches_in(session: Mapping[str, Any], *, at: datetime) -> dict[str, list[Any]]:
    """Return the searches of a session that are still kept; none from a time to come, as after a clock set back."""
    now, longest = at.timestamp(), SEARCHES_KEPT_FOR.total_seconds()
    kept: Mapping[str, Any] = session.get(SEARCHES, {})
    return {key: row for key, row in kept.items() if isinstance(row, list) and 0 <= now - row[1] < longest}


def forget_searches(*, at: datetime) -> int:
    """Take words that were searched for out of every session after SEARCHES_KEPT_FOR; return how many sessions had any.

    One that changes meanwhile is left as it is, for the next time.
    """
    changed = 0
    for row in Session.objects.iterator():
        held = row.get_decoded()
        kept = searches_in(held, at=at)
        if len(kept) < len(held.get(SEARCHES, {})):
            data = Session.objects.encode(held | {SEARCHES: kept})
            same = Session.objects.filter(pk=row.pk, session_data=row.session_data)
            changed += same.update(session_data=data)
    return changed
