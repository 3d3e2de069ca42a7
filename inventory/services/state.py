"""Where an instrument is and what state it is in: the one gate, and the one place that writes the answer."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction

from core.models import User
from inventory.exceptions import InstrumentUnavailableError
from inventory.models import Custody, Instrument, Whereabouts
from inventory.selectors.state import State, state_of
from inventory.services.event_log import log_event


@transaction.atomic
def refresh_state(*, instrument: Instrument, actor: User | None, at: datetime) -> State:
    """Recompute and store verdict and readiness; called by every service that changes a fact, in its transaction.

    Writes an event only when the verdict or the readiness changed. The passed instance is not touched.
    """
    fresh = Instrument.objects.get(pk=instrument.pk)
    state = state_of(fresh)
    columns = state.columns()
    before = {"verdict": fresh.verdict, "readiness": fresh.readiness}
    after = {"verdict": columns["verdict"], "readiness": columns["readiness"]}
    Instrument.objects.filter(pk=fresh.pk).update(**columns)
    if before != after:
        log_event(
            instrument=fresh,
            act="judged",
            actor=actor,
            at=at,
            before=before,
            after=after,
        )
    return state


@transaction.atomic
def keep_for_parts(*, instrument: Instrument, is_parts_horn: bool, actor: User | None, at: datetime) -> None:
    """Take it off what may go out, or put it back among it; refuses when somebody else was faster."""
    changed = Instrument.objects.filter(pk=instrument.pk, is_parts_horn=not is_parts_horn).update(
        is_parts_horn=is_parts_horn
    )
    if not changed:
        words = "is" if is_parts_horn else "is not"
        raise InstrumentUnavailableError(
            f"{instrument.asset_number} {words} a parts horn already. Nothing was changed."
        )
    refresh_state(instrument=instrument, actor=actor, at=at)


@transaction.atomic
def move_instrument(
    *, instrument: Instrument, expected: str, to: str, actor: User | None, at: datetime, reference: str = ""
) -> None:
    """Set the whereabouts, unless somebody else has changed them first.

    The conditional update and the partial unique constraint on the open custody span hold on SQLite and
    PostgreSQL alike. Raises InstrumentUnavailableError and writes nothing.
    """
    moved = Instrument.objects.filter(pk=instrument.pk, whereabouts=expected).update(whereabouts=to)
    if not moved:
        label = Whereabouts(expected).label.lower()
        raise InstrumentUnavailableError(
            f"{instrument.asset_number} is not {label} any more. Somebody else was faster; nothing was changed."
        )
    Custody.objects.filter(instrument=instrument, until=None).update(until=at)
    try:
        with transaction.atomic():
            Custody.objects.create(instrument=instrument, whereabouts=to, since=at, reference=reference, actor=actor)
    except IntegrityError:
        raise InstrumentUnavailableError(
            f"{instrument.asset_number} was moved by somebody else at the same moment. Nothing was changed."
        ) from None
    log_event(
        instrument=instrument,
        act="moved",
        actor=actor,
        at=at,
        before={"whereabouts": expected},
        after={"whereabouts": to, "reference": reference},
    )
    refresh_state(instrument=instrument, actor=actor, at=at)
