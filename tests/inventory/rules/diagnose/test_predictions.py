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
