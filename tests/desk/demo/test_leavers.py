"""What left the demo's fleet. Common practice, no source."""

from __future__ import annotations

import pytest

from desk.demo.leavers import enter_one_twice, remove_from_fleet, transfer_between_schools
from desk.selectors.verifying import differences
from inventory.models import Instrument
from tests.desk.demo.stages import make_stage

pytestmark = [pytest.mark.django_db, pytest.mark.drill]


def test_some_left_one_was_entered_twice_and_one_goes_to_another_school():
    stage = make_stage(seen=True, share=0.5)
    before = Instrument.objects.present().count()
    left = [*remove_from_fleet(stage), enter_one_twice(stage)]
    assert {one.way for one in left} >= {"sold", "error"}
    assert Instrument.objects.present().count() == before - len(left) + 1
    agreed, open_offer = transfer_between_schools(stage)
    assert Instrument.objects.get(pk=agreed.instrument_id).school.code == "MILL"
    assert open_offer.settled_at is None
    assert Instrument.objects.get(pk=open_offer.instrument_id).school.code == "TVHS"
    assert differences()[1] == []
