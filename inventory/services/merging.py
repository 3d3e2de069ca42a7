"""Two records of one instrument become one: the other stays as it was and leads to the one that is kept."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext

from core.acts import service
from core.events import already
from core.models import User
from inventory.exceptions import RefusedError
from inventory.models import Instrument, Whereabouts
from inventory.services.event_log import log_event
from inventory.services.state import lock_instruments, move_instrument, write

MERGEABLE = (Whereabouts.IN_STORE, Whereabouts.NOT_FOUND)


@service
def merge_instruments(*, kept: Instrument, away: Instrument, actor: User, at: datetime) -> Instrument:
    """Let the record ``away`` lead to ``kept``. Nothing of either is changed or deleted; ``unmerge_instrument`` undoes it.

    Refused while ``away`` is with somebody, on a bench or at a shop: then it is the one to keep.
    """
    one, other = lock_instruments(kept, away)
    if one.pk == other.pk:
        raise RefusedError(gettext("That is the same record."))
    if one.school_id != other.school_id:
        raise RefusedError(gettext("They are at different schools. Bring them to one school first."))
    if one.merged_into_id or other.merged_into_id:
        number = (one if one.merged_into_id else other).asset_number
        words = gettext("%(number)s has already been merged into another record.") % {"number": number}
        raise RefusedError(already(words, subject=other, acts=["merged"]))
    if other.whereabouts not in MERGEABLE:
        values = {
            "number": other.asset_number,
            "where": str(Whereabouts(other.whereabouts).label).lower(),
            "kept": one.asset_number,
        }
        raise RefusedError(
            gettext("%(number)s is %(where)s. Keep that record and merge %(kept)s into it, or bring it back first.")
            % values
        )
    before = other.whereabouts
    write(other, merged_into=one)
    move_instrument(
        instrument=other, expected=before, to=Whereabouts.GONE, actor=actor, at=at, reference=f"merged:{one.pk}"
    )
    log_event(instrument=other, act="merged", after={"into": one.pk, "was": before})
    log_event(instrument=one, act="merged_here", after={"from": other.pk})
    return one


@service
def unmerge_instrument(*, away: Instrument, actor: User, at: datetime) -> Instrument:
    """Make a merged record one of its own again, in storage."""
    known = Instrument.objects.only("merged_into").get(pk=away.pk).merged_into_id
    rows = lock_instruments(*(key for key in (away.pk, known) if key))
    other = next(row for row in rows if row.pk == away.pk)
    if known is None or other.merged_into_id != known:
        words = gettext("%(number)s is a separate record. Nothing was changed.") % {"number": other.asset_number}
        raise RefusedError(already(words, subject=other, acts=["unmerged"]))
    write(other, merged_into=None)
    move_instrument(instrument=other, expected=Whereabouts.GONE, to=Whereabouts.IN_STORE, actor=actor, at=at)
    log_event(instrument=other, act="unmerged")
    log_event(instrument=next(row for row in rows if row.pk == known), act="unmerged_here", after={"from": other.pk})
    return other
