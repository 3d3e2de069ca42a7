from __future__ import annotations

from inventory.pages.drawing import marks_of
from inventory.selectors.standing import standing_of
from tests.factories import make_inspection, make_instrument


def test_a_part_carries_its_worst_finding(school):
    instrument = make_instrument(school=school)
    make_inspection(
        instrument=instrument,
        findings=[("piston", "valve_sluggish", "light", "1"), ("piston", "valve_stuck", "severe", "2")],
    )
    standing = standing_of(instrument)
    worst = max(standing.judgement.effects, key=lambda effect: ["looks", "limits", "stops"].index(effect.group.value))
    assert marks_of(standing)["piston"].group.value == worst.group.value
