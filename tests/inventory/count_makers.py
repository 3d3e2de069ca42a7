"""Seeing instruments in a count."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from core.models import User
from inventory.models import Count, Instrument
from inventory.services.counts import Seen, record_sighting
from tests.factories import NOW

LATER = NOW + timedelta(hours=1)


def see(count: Count, instrument: Instrument | None, actor: User, *, text: str = "", **more: Any) -> Seen:
    text = text or (instrument.asset_number if instrument else "")
    return record_sighting(count=count, text=text, instrument=instrument, actor=actor, at=LATER, **more)
