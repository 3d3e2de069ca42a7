"""An instrument nobody has inspected yet, and a walk begun on it."""

from __future__ import annotations

import pytest

from core.models import User
from inventory.models import Inspection, Instrument, Purpose, School
from inventory.services.inspecting import start_inspection
from tests.factories import NOW, make_instrument


@pytest.fixture
def instrument(school: School) -> Instrument:
    return make_instrument(school=school)


@pytest.fixture
def draft(instrument: Instrument, tech: User) -> Inspection:
    return start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=NOW)
