from inventory.rules.diagnose.predictions import UNLIKELY, survey
from tests.inventory.rules.cases import CATALOG, KINDS, make_chart


def make_survey(code: str, level: str = "first_year"):
    chart = make_chart(code)
    return survey(KINDS[code], level, chart=chart, options={}, faults=CATALOG.faults, roles=CATALOG.roles)


def make_predictions(code: str, level: str = "first_year"):
    return make_survey(code, level).predictions


def test_only_faults_that_spoil_a_note_are_predicted():
    known = make_predictions("trumpet")
    assert known
    assert all(one.notes for one in known)
    assert "lacquer_wear" not in {one.finding.fault for one in known}


def test_what_an_instrument_is_off_at_by_its_make_is_no_fault():
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


def test_a_woodwind_key_has_no_detail_to_vary_but_its_links():
    varied = {one.finding.fault for one in make_predictions("clarinet_bb") if one.finding.detail}
    assert varied == {"regulation_off"}


def test_a_slide_is_predicted_to_stop_at_each_position_before_the_last():
    found = {one.finding.detail for one in make_predictions("trombone") if "slide_leg" in one.finding.fault}
    assert {"", *(f"position {place}" for place in (2, 3, 5, 6))} <= found  # unsaid it stops half way, at the fourth
    assert "position 7" not in found


def test_likelier_faults_of_a_part_come_first():
    found = by_fault("trumpet", "valve_stuck", part="piston", place="1")[0]
    assert found.likelihood == CATALOG.roles["piston"].faults.index("valve_stuck")


def test_regulation_is_predicted_only_where_keys_are_linked():
    """The G key of a flute shuts its own pad alone; the F key shuts the F sharp and B flat pads as well."""
    places = {one.finding.place for one in make_predictions("flute") if one.finding.fault == "regulation_off"}
    assert "G_pad" not in places
    assert {"F_pad", "Fs_pad", "Bb_pad"} <= places


def test_a_link_out_of_regulation_is_predicted_key_by_key():
    details = {
        one.finding.detail
        for one in make_predictions("sax_alto")
        if (one.finding.place, one.finding.fault) == ("small_C_pad", "regulation_off")
    }
    assert details == {"", "link L1", "link L2"}


def test_what_spoils_no_note_is_listed_as_silent_and_not_predicted():
    """A palm key of a saxophone is used above the first year's range: stuck shut it spoils nothing there."""
    found = make_survey("sax_alto")
    silent = {(one.place, one.fault) for one in found.silent}
    assert ("palm_F", "pad_sticky") in silent
    assert ("palm_F", "pad_leak") not in silent
    assert not silent & {(one.finding.place, one.finding.fault) for one in found.predictions}


def test_what_is_not_heard_anyway_and_what_eyes_find_first_are_not_silent():
    """Worn lacquer has no effect on a note; a missing part, or a pad at a bare hole, nobody looks for by ear."""
    found = {one.fault for one in make_survey("clarinet_bb").silent}
    assert found
    assert not found & {"lacquer_wear", "missing_part"}
    assert not any(one.place == "R3_hole" and one.fault == "pad_sticky" for one in make_survey("clarinet_bb").silent)
