"""Accessories counted in a walk and outside one."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.exceptions import RefusedError
from inventory.models import Instrument
from inventory.services.inspecting import (
    answer_safety,
    count_accessories,
    finish_inspection,
    look_at_rest,
)
from tests.factories import NOW

LATER = NOW + timedelta(days=1)


def fresh(instrument: Instrument) -> Instrument:
    return Instrument.objects.get(pk=instrument.pk)


def test_counts_of_a_walk_are_kept_with_it_until_it_is_finished(draft, tech, instrument):
    count_accessories(instrument=instrument, counts={"case": 0}, actor=tech, at=NOW, inspection=draft)
    assert instrument.accessories.get(code="case").present is None
    answer_safety(inspection=draft, is_safe=True, actor=tech, at=NOW)
    look_at_rest(inspection=draft, actor=tech, at=NOW)
    finish_inspection(inspection=draft, actor=tech, at=NOW)
    assert instrument.accessories.get(code="case").present == 0
    assert fresh(instrument).readiness == "stays_in"


def test_an_accessory_of_another_kind_is_refused(instrument, tech):
    with pytest.raises(RefusedError, match="Not an accessory"):
        count_accessories(instrument=instrument, counts={"bocal": 1}, actor=tech, at=NOW)
