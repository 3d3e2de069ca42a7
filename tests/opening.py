"""Rows that tests make past the services get their opening events, as a migration gives them to rows of old."""

from __future__ import annotations

from datetime import datetime

from core.models import Event, EventHead
from core.openings import Opening, open_rows
from core.traces import registered


def open_all(*, at: datetime) -> int:
    openings = [Opening(trace.model, begins=tuple(trace.begins)) for trace in registered()]
    return open_rows(openings, at=at, event=Event, head=EventHead)
