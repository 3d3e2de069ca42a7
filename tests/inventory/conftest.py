"""An instrument nobody has inspected yet, and a walk begun on it."""

from __future__ import annotations

import pytest

from core.models import User
from inventory.models import Count, Inspection, Instrument, Purpose, Room, School
from inventory.services.counts import open_count
from inventory.services.inspecting import start_inspection
from tests.factories import NOW, make_instrument, make_room


@pytest.fixture
def instrument(school: School) -> Instrument:
    return make_instrument(school=school)


@pytest.fixture
def draft(instrument: Instrument, tech: User) -> Inspection:
    return start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=NOW)


@pytest.fixture
def rooms(school: School) -> tuple[Room, Room]:
    return make_room(school=school, name="Band room"), make_room(school=school, name="Closet")


@pytest.fixture
def fleet(school: School, rooms: tuple[Room, Room]) -> list[Instrument]:
    """Four in the band room, none inspected."""
    return [make_instrument(school=school, room=rooms[0], asset_number=f"A{n}") for n in range(4)]


@pytest.fixture
def count(school: School, fleet: list[Instrument], director: User) -> Count:
    return open_count(school=school, actor=director, at=NOW)
