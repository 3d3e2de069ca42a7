from inventory.rules.diagnose.predictions import UNLIKELY, predictions
from tests.inventory.rules.cases import CATALOG, KINDS, make_chart


def make_predictions(code: str, level: str = "first_year"):
    return predictions(
        KINDS[code], level, chart=make_chart(code), options={}, faults=CATALOG.faults, roles=CATALOG.roles
    )


def test_only_faults_that_spoil_a_note_are_predicted():
    known = make_predictions("trumpet")
    assert known
    assert all(one.notes for one in known)
    assert "lacquer_wear" not in {one.finding.fault for one in known}


def test_what_a_horn_is_off_at_by_its_make_is_no_fault():
    known = make_predictions("flugelhorn")
    assert not any(one.finding.fault == "slide_seized" and one.finding.part == "third_valve_slide" for one in known)


def test_a_pad_is_unlikely_at_a_bare_hole():
    bare = [one for one in make_predictions("clarinet_bb") if one.finding.place == "R3_hole"]
    assert all(one.order[1] >= UNLIKELY for one in bare if one.finding.fault == "pad_leak")


def test_a_drum_has_no_notes_to_predict():
    assert make_predictions("snare_kit") == ()


def by_fault(code: str, fault: str, *, part: str, place: str = ""):
    found = [one for one in make_predictions(code) if one.finding.fault == fault and one.finding.part == part]
    return [one for one in found if one.finding.place == place]


def test_a_leak_weakens_a_stuck_slide_detunes_and_a_stuck_valve_takes_the_note():
    """The effect table of the catalog: a leak at the third slide's water key is heard while that valve is down."""
    (leak,) = by_fault("trumpet", "water_key_leak", part="third_slide_water_key")
    assert (leak.weak, leak.dead) == (leak.notes, frozenset())
    assert leak.notes == {"C#4", "D4", "Eb4", "Ab4"}
    (seized,) = by_fault("trumpet", "slide_seized", part="third_valve_slide")
    assert (seized.notes, seized.weak, seized.dead) == ({"C#4", "D4"}, frozenset(), frozenset())
    assert all(one.weak == frozenset() for one in by_fault("trumpet", "valve_stuck", part="piston", place="2"))


def test_a_valve_is_predicted_up_and_down_and_by_standard_fingerings_too():
    """Up it loses the notes that need it, down all that need it up; a tester may or may not try other fingerings."""
    found = by_fault("trumpet", "valve_stuck", part="piston", place="2")
    assert {one.finding.detail for one in found} == {"", "down"}
    up = {len(one.dead) for one in found if not one.finding.detail}
    assert {6, 11} <= up  # with alternates, and by standard fingerings alone


def test_a_woodwind_key_has_no_detail_to_vary():
    assert {one.finding.detail for one in make_predictions("clarinet_bb")} == {""}


def test_a_slide_is_predicted_to_stop_at_each_position_before_the_last():
    found = {one.finding.detail for one in make_predictions("trombone") if "slide_leg" in one.finding.fault}
    assert {"", *(f"position {place}" for place in (2, 3, 5, 6))} <= found  # unsaid it stops half way, at the fourth
    assert "position 7" not in found


def test_likelier_faults_of_a_part_come_first():
    found = by_fault("trumpet", "valve_stuck", part="piston", place="1")[0]
    assert found.likelihood == CATALOG.roles["piston"].faults.index("valve_stuck")
