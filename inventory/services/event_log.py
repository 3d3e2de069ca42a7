"""Events about an instrument, in its own thread and in its school's log."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from types import EllipsisType
from typing import Any

from django.db import models

from core.events import Texts, record_event
from core.models import User
from inventory.models import Instrument


def log_event(
    *,
    instrument: Instrument,
    act: str,
    school: int | None = None,
    actor: User | EllipsisType | None = ...,
    at: datetime | None = None,
    subject: models.Model | None = None,
    before: Mapping[str, Any] | None = None,
    after: Mapping[str, Any] | None = None,
    texts: Texts | None = None,
) -> None:
    """Append one event about the instrument, or about ``subject``, a row that belongs to it.

    Actor and moment are the act's. ``school`` is the key of the school it concerns, where that is not the one the
    instrument is at now.

    The rule of ``record_event`` holds: what somebody typed goes into ``texts`` alone.
    """
    record_event(
        actor=actor,
        act=act,
        subject=subject or instrument,
        at=at,
        thread=instrument.thread,
        tenant=instrument.school_id if school is None else school,
        before=before,
        after=after,
        texts=texts,
    )
