"""Care that was done, for tests, through the service."""

from __future__ import annotations

from typing import Any

from inventory.models import Instrument
from repairs.models import CareDone
from repairs.services.care import record_care
from tests.factories import NOW, TODAY, make_ready_instrument, make_user


def make_care(*, instrument: Instrument | None = None, **overrides: Any) -> CareDone:
    instrument = instrument or make_ready_instrument()
    fields: dict[str, Any] = {"code": "piston_oil", "done_on": TODAY, "actor": make_user(), "at": NOW} | overrides
    return record_care(instrument=instrument, **fields)
