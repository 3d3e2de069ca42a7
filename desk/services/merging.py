"""Merging two records of one instrument, where loans and jobs allow it."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext

from core.acts import service
from core.models import User
from inventory.exceptions import RefusedError
from inventory.models import Instrument
from inventory.services.merging import merge_instruments
from inventory.services.state import lock_instruments
from loans.models import Loan
from loans.selectors.sharing import uses_of
from loans.services.sharing import move_sharing
from repairs.models import Job


@service
def merge_records(*, kept: Instrument, away: Instrument, actor: User, at: datetime) -> Instrument:
    """Merge ``away`` into ``kept``, or refuse: both are out, both have an open job, or only ``away`` has one.

    Whoever shares ``away`` in class shares ``kept`` from then on; refused while that is with a student.
    """
    pair = {row.pk for row in lock_instruments(kept, away)}
    out = set(Loan.objects.open().filter(instrument__in=pair).values_list("instrument_id", flat=True))
    jobs = set(Job.objects.open().filter(instrument__in=pair).values_list("instrument_id", flat=True))
    if out == pair and len(pair) > 1:
        raise RefusedError(gettext("Both are with a student. Take one back first."))
    if jobs == pair and len(pair) > 1:
        raise RefusedError(gettext("Both have an open job. Close one first."))
    if away.pk in out | jobs and kept.pk != away.pk:
        both = {"number": away.asset_number, "kept": kept.asset_number}
        raise RefusedError(
            gettext("%(number)s is out or has an open job. Merge %(kept)s into it instead, or end that first.") % both
        )
    if kept.pk != away.pk:
        if kept.pk in out and uses_of(away):
            both = {"number": away.asset_number, "kept": kept.asset_number}
            words = gettext("%(number)s is shared in class, and %(kept)s is with a student. End one of the two first.")
            raise RefusedError(words % both)
        move_sharing(away=away, kept=kept, at=at)
    return merge_instruments(kept=kept, away=away, actor=actor, at=at)
