from __future__ import annotations

from inventory.pages.drawing import drawn, marks_of
from inventory.rules.verdict import EffectGroup
from inventory.selectors.standing import standing_of
from tests.factories import make_inspection, make_instrument


def test_both_drawings_say_the_same_as_the_judgement(school):
    instrument = make_instrument(school=school)
    walk = make_inspection(
        instrument=instrument,
        findings=[("third_valve_slide", "slide_seized", "severe"), ("finish", "lacquer_wear", "light")],
    )
    standing = standing_of(instrument, findings=walk.findings.all().facts())
    paper = drawn(standing)
    assert paper["notes"] == standing.judgement.report.notes
    assert paper["marks"] == marks_of(standing_of(instrument))
    assert paper["marks"]["third_valve_slide"].group is EffectGroup.LIMITS
    assert paper["signs"] == {EffectGroup.LIMITS, EffectGroup.LOOKS}
    assert [line.split(" ", 1)[1] for line in paper["marked"]] == [
        "third valve slide, stuck or seized slide",
        "finish, lacquer wear",
    ]
    assert not paper["is_unconfirmed"]
    assert not paper["is_all_usual"]


def test_a_part_carries_its_worst_finding(school):
    instrument = make_instrument(school=school)
    make_inspection(
        instrument=instrument,
        findings=[("piston", "valve_sluggish", "light", "1"), ("piston", "valve_stuck", "severe", "2")],
    )
    standing = standing_of(instrument)
    worst = max(standing.judgement.effects, key=lambda effect: ["looks", "limits", "stops"].index(effect.group.value))
    assert marks_of(standing)["piston"].group.value == worst.group.value


def test_a_sound_instrument_hurts_nobody(school):
    paper = drawn(standing_of(make_instrument(school=school, kind_code="flute")))
    assert paper["hurts_nobody"]
    assert paper["is_all_usual"]
    assert paper["is_unconfirmed"]
    assert paper["marked"] == ()
