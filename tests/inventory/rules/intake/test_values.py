"""Values kept between dry run and confirmation."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal

from inventory.rules.intake.values import IntakeValues


def test_values_survive_being_stored_as_json():
    values = IntakeValues(
        kind="trumpet",
        serial="00123",
        year_made=1998,
        valves=3,
        acquired_on=date(2019, 8, 1),
        cost_amount=Decimal("0.00"),
        federal_share=Decimal("80.00"),
        accessories=("case", "Mouthpiece: 7C"),
        notes="ünïcode\nlines",
    )
    assert IntakeValues.from_record(json.loads(json.dumps(values.as_record()))) == values


def test_empty_values_take_no_room():
    assert IntakeValues(kind="flute").as_record() == {"kind": "flute"}
    assert IntakeValues.from_record({}) == IntakeValues()
